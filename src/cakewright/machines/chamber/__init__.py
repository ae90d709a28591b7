"""Chamber press: plates filled by the feed pump alone."""
