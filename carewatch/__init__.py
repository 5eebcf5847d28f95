"""
carewatch: weather-aware aftercare for small container trees.

The map. Weather and care log come in at the top of the first list and leave at its foot as notices; a part may import
only parts above it. Pure parts know no clock, file, network, environment, logging or unseeded chance: `now` is an
argument everywhere.

    physics      kernels on arrays: humidity, radiation, sun, wind, leaf, heat balance, evaporation
    forecast     what a row of weather means; ensembles, correction, joining with history
    place        the air, light, wind and rain of one corner of the garden
    care         the log: works, moves, measures in force, observations
    condition    log and history: what the tree is now
    exposure     what its leaves, buds, bark, roots and pot will feel, hour by hour
    limits       from dose to damage to loss, per hazard and organ
    hazard       the kinds of danger, and the spells in which they pass a limit
    measures     what can be done, what it achieves, and which is the least that suffices
    tasks        the long clock: when ties may go, when the next step is due, the kindest day
    alerts       desired against standing dangers: plan, timing, rounds, wording
    delivery     the rules of sending, without any technology of it
    verify       were forecasts and warnings right here
    assess       the whole chain in one function
    outcome      what was found, in plain values for words, plans and pictures
    whatif       is a work right now, and which coming day is kindest to it

Edges are named by the technology they touch. They import pure parts and never each other; only daemon and cli, which
put the program together, see the others.

    config       config.toml, garden.toml and the tables, read into frozen values
    weather_api  weather services and recorded answers
    sqlite       what happened: log, readings, forecasts, notices, outbox
    notify       channels to the person
    charts       pictures of what is coming
    worker       the child process that computes
    web          the page on the home network
    daemon       the service: schedule and wiring
    cli          the commands
    demo         an invented garden and its weather

Data beside the code: tables/ holds every number with its source, cli/schemas/ the shape of every JSON document.
"""

__version__ = "0.1.0"
