#!/usr/bin/python3
"""Reads a metrics file with the text-format parser of python3-prometheus-client (Debian 12:
0.16.0) and says how much was in it. Exit status 0 when it is well formed and names every family
that is always there; 77 where the parser is not installed."""
import sys

try:
    from prometheus_client.parser import text_string_to_metric_families
except ImportError:
    print("python3-prometheus-client is not installed")
    sys.exit(77)

with open(sys.argv[1], encoding="utf-8") as f:
    families = list(text_string_to_metric_families(f.read()))
names = {f.name for f in families}
always = {
    "stokehold_boat_info",
    "stokehold_reading_age_seconds",
    "stokehold_alerts",
    "stokehold_frames",
    "stokehold_start_timestamp_seconds",
    "stokehold_record_up",
}
missing = always - names
print(len(families), "families,", sum(len(f.samples) for f in families), "samples")
if missing:
    sys.exit("missing: " + ", ".join(sorted(missing)))
