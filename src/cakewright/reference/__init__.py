"""Published tables as data files; every row has a source id and a page or table."""
