-- Pictures that go with notices, kept only as long as their notice is of use.
CREATE TABLE notice_picture (
    notice TEXT PRIMARY KEY REFERENCES notice (id),
    png BLOB NOT NULL CONSTRAINT picture_is_small CHECK (length(png) BETWEEN 1 AND 200000),
    -- What it shows, for those who do not see it.
    caption TEXT NOT NULL CHECK (length(caption) <= 500)
) STRICT;
