"""The library as a notebook meets it; the public names are spelled out in `cakewright`."""
