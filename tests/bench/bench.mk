# make bench: what reading, deciding and showing cost, as ratios within one run.
BENCH_FRAMES ?= 3000000

$(BUILD)/tests/bench/%: $(BUILD)/tests/bench/%.o $(LIB)
	$(call say,LINK,$@)
	$(Q)$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $^ $(LIBS)

# The guest's waits fail as those of tests do.
$(BUILD)/tests/bench/bench_bus: $(BUILD)/tests/can/guest.o
$(BUILD)/tests/bench/bench_bus: LIBS += -lcmocka

$(BUILD)/bench/mixed.log: $(BUILD)/tests/bench/mixed_log
	@mkdir -p $(@D)
	$(Q)$< $(BENCH_FRAMES) >$@.part && mv $@.part $@
# 200 channels, each every 30 s, for 36 hours: what the longest history holds.
$(BUILD)/bench/channels.log: $(BUILD)/tests/bench/mixed_log
	@mkdir -p $(@D)
	$(Q)$< 864000 200 >$@.part && mv $@.part $@

# Every message of which makes channels.
$(BUILD)/bench/drill.log: $(BUILD)/stokehold
	@mkdir -p $(@D)
	$(Q)$< drill --minutes 400 -o $@ 2>/dev/null
$(BUILD)/bench/%.log.zst: $(BUILD)/bench/%.log
	$(Q)tests/tools/deps bench
	$(Q)zstd -q -f $< -o $@
SIFTED := $(BUILD)/bench/mixed.log $(BUILD)/bench/drill.log

bench: $(BUILD)/stokehold $(BUILD)/tests/bench/bench $(SIFTED) $(SIFTED:=.zst) $(BUILD)/bench/channels.log
	$(Q)$(BUILD)/tests/bench/bench $(BUILD)/stokehold $(BUILD)/tests/bench/mixed_log $(SIFTED) $(BUILD)/bench/channels.log

# From the frame that decides to the hook, whatever the disk does.
	$(Q)$(MAKE) --no-print-directory $(SHIM)
	$(Q)tests/bench/alarm.py $(BUILD)/stokehold $(BUILD)/tests/faults/shim.so $(BUILD)/bench/alarm

# The live bus, where the guest can be booted.
	$(Q)if command -v linux.uml >/dev/null; then \
	    $(MAKE) --no-print-directory $(BUILD)/tests/bench/bench_bus && \
	    tests/can/boot.sh -t 60 $(BUILD)/tests/bench/bench_bus $(BUILD)/stokehold; \
	else echo "tend on a live bus: needs user-mode-linux, see tests/can/boot.sh"; fi

	$(Q)$(MAKE) --no-print-directory bench-trial bench-season-read

# make bench-trial: do the errors of a sea trial hold the truth as often as they say?
TRIAL_ARGS ?=
$(BUILD)/tests/bench/figures: $(VOYAGE)
$(BUILD)/tests/bench/figures: LIBS := $(LIB) -lcmocka $(LIBS)
bench-trial: $(BUILD)/tests/bench/figures
	$(Q)$< $(TRIAL_ARGS)

# What sifting costs, beside grep and zstd, and nothing else.
bench-sift: $(BUILD)/stokehold $(BUILD)/tests/bench/bench $(SIFTED) $(SIFTED:=.zst)
	$(Q)$(BUILD)/tests/bench/bench $(BUILD)/stokehold $(SIFTED)

.PHONY: bench bench-sift bench-trial

# make bench-detect: how early and how quiet the cooling watch is. DETECT_ARGS: --seed N repeats,
# --held-out sails what no figure was chosen on. Exit 1 where a goal is missed; see
# docs/detection.md.
DETECT_OBJS = $(patsubst %.c,$(BUILD)/%.o,$(wildcard tests/bench/detect*.c))
-include $(DETECT_OBJS:.o=.d)
DETECT_ARGS ?=
$(BUILD)/tests/bench/detect: $(DETECT_OBJS) $(LIB)
	$(call say,LINK,$@)
	$(Q)$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $^ $(LIBS)
# The trips of the bench that run with the tests: test_bench_trips.c, and test_other_trips.c of other
# boats; and the boats alone.
$(addprefix $(BUILD)/tests/cooling/,test_bench_boats test_bench_trips test_other_trips): $(filter-out %/detect.o,$(DETECT_OBJS))
# Every figure of the watch changed by a quarter, one at a time: do those trips notice?
bench-figures: $(BUILD)/tests/cooling/test_bench_trips
	$(Q)$< --sweep 1.25
bench-detect: $(BUILD)/tests/bench/detect
	$(Q)$< $(DETECT_ARGS)
# All of docs/detection.md's table of other boats: TABLE_ARGS: SEED HOURS TRIPS '"SIDES"'.
TABLE_ARGS ?=
bench-detect-table: $(BUILD)/tests/bench/detect
	$(Q)tests/bench/detect-table $< $(TABLE_ARGS)
.PHONY: bench-detect bench-detect-table bench-figures

# Compiles every benchmark and runs none: CI sees to it that they still build.
benches: $(BUILD)/tests/bench/figures $(BUILD)/tests/bench/season $(BUILD)/tests/bench/season_read $(BUILD)/tests/bench/detect $(BUILD)/tests/bench/bench_bus \
    $(BUILD)/tests/bench/bench $(BUILD)/tests/bench/mixed_log $(BUILD)/tests/screen/bench_draw
.PHONY: benches

# make instructions: what a frame costs, counted by callgrind, held to tests/bench/instructions.txt.
# On one processor, where no thread reads ahead: the count is then the same every time.
INSTRUCTIONS ?=
$(BUILD)/bench/trip.log: $(BUILD)/stokehold
	@mkdir -p $(@D)
	$(Q)$< drill --random --seed 9 --minutes 20 --fault impeller -o $@ 2>/dev/null
instructions: $(BUILD)/bench/trip.log
	$(Q)tests/tools/deps count
	$(Q)tests/bench/instructions $(BUILD)/stokehold $< "$(lastword $(CC)) $(CFLAGS)" $(INSTRUCTIONS)
.PHONY: instructions

# make bench-season: how early a season's memory says what wears, and how quiet it is. SEASON_ARGS:
# --seed N repeats. Exit 1 where a goal is missed; see docs/season.md.
SEASON_ARGS ?=
$(BUILD)/tests/bench/season: $(BUILD)/tests/bench/season.o $(BUILD)/tests/bench/season_sail.o $(LIB)
	$(call say,LINK,$@)
	$(Q)$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $^ $(LIBS)
$(BUILD)/tests/bench/season_read: $(BUILD)/tests/bench/season_read.o $(BUILD)/tests/bench/season_sail.o $(LIB)
	$(call say,LINK,$@)
	$(Q)$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $^ $(LIBS)
bench-season-read: $(BUILD)/tests/bench/season_read
	@mkdir -p $(BUILD)/bench
	$(Q)$< $(BUILD)/bench/year.season
$(BUILD)/tests/season/test_seasons: $(BUILD)/tests/bench/season_sail.o
bench-season: $(BUILD)/tests/bench/season
	$(Q)$< $(SEASON_ARGS)
.PHONY: bench-season bench-season-read
-include $(wildcard $(BUILD)/tests/bench/*.d $(BUILD)/tests/arm/*.d)

# make stair: the way of one exhaust reading to the alert that it raises, call by call, and how many
# calls that is. Functions of headers are not counted: they are inlined.
STAIR_FLAGS = -O0 -g -no-pie -fno-pie -finstrument-functions -finstrument-functions-exclude-file-list=.h
stair: $(BUILD)/stokehold
	$(Q)$(MAKE) --no-print-directory BUILD=$(BUILD)/stair CFLAGS="$(STAIR_FLAGS)" $(BUILD)/stair/tests/bench/stair
	@mkdir -p $(BUILD)/stair/bench
	$(Q)$(BUILD)/stokehold drill --seed 5 --minutes 12 --fault impeller -o $(BUILD)/stair/bench/stair.log 2>/dev/null
	$(Q)tests/bench/stair $(BUILD)/stair $(STAIR_ARGS)
.PHONY: stair
