"""Live plant data, read-only: OPC UA and Modbus TCP, stored on disk first. Nothing here writes
to a plant; both libraries are the `field` extra and are imported when first used."""

from cakewright.storage.live.poller import LiveReader, PollReport, live_reader, poll
from cakewright.storage.live.reading import (
    Quality,
    Reading,
    Tag,
    TagMap,
    parse_tag_map,
    read_tag_map,
)
from cakewright.storage.live.spool import Spool

__all__ = [
    "LiveReader",
    "PollReport",
    "Quality",
    "Reading",
    "Spool",
    "Tag",
    "TagMap",
    "live_reader",
    "parse_tag_map",
    "poll",
    "read_tag_map",
]
