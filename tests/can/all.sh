#!/bin/sh
# Runs the test programs named, one after the other (they share the interfaces); the last line is
# `N passed, N failed`.
TEST_JOBS=1 exec tests/tools/run-tests "$@"
