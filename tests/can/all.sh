#!/bin/sh
# Runs each test program named, one after the other; 1 when any of them failed.
failed=0
for program in "$@"; do
    "$program" || failed=1
done
exit $failed
