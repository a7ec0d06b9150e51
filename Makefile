# GNU make. Everything built goes below $(BUILD). `make help` lists the targets.
BUILD   ?= build
PREFIX  ?= /usr/local
ifeq ($(origin CC),default)
CC       = gcc
endif
CFLAGS  ?= -O3 -g
WARN     = -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wstrict-prototypes -Wmissing-prototypes
ALL_CFLAGS  = -std=c17 -D_GNU_SOURCE $(WARN) -Isrc -I$(BUILD)/gen -MMD -MP $(EXTRA_CFLAGS) $(CFLAGS)
# -ffp-contract=off: the same log must give the same alerts on every processor.
ALL_CFLAGS += -fno-common -ffp-contract=off
LIBS     = -lncursesw -ltinfo -lm -lpthread $(OPTIONAL_LIBS)
V       ?= 0
ifeq ($(V),0)
Q = @
say = @printf '  %-5s %s\n' $(1) $(2)
endif

VERSION := 0.1.0
LAYERS  ?= base config bus wire cooling season plant alerts rules keeper record hooks report screen drill session verbs
# A layer may have one level of folders.
SRCS    := $(wildcard $(LAYERS:%=src/%/*.c) $(LAYERS:%=src/%/*/*.c))
OBJS    := $(SRCS:src/%.c=$(BUILD)/%.o)
# SHARED=1: one library that every program loads, so that a change to it links nothing else again.
SHARED  ?= 0
comma   := ,
LIB     := $(BUILD)/libstokehold.$(if $(filter 1,$(SHARED)),so,a)
NEEDS_LIB := $(if $(filter 1,$(SHARED)),|) $(LIB)
LDFLAGS += $(if $(filter 1,$(SHARED)),-Wl$(comma)-rpath$(comma)$(abspath $(BUILD)))

# Optional libraries: used where they are, `make WITH_ZSTD=0` builds without.
have     = $(shell $(CC) -E -include $(1) -x c /dev/null >/dev/null 2>&1 && echo 1)
WITH_ZSTD ?= $(call have,zstd.h)
WITH_ZLIB ?= $(call have,zlib.h)
ifeq ($(WITH_ZSTD),1)
ALL_CFLAGS += -DWITH_ZSTD
OPTIONAL_LIBS += -lzstd
endif
ifeq ($(WITH_ZLIB),1)
ALL_CFLAGS += -DWITH_ZLIB
OPTIONAL_LIBS += -lz
endif

all: $(BUILD)/stokehold

# Changes when an optional library comes or goes: everything is then compiled again.
OPTIONAL := zstd=$(WITH_ZSTD) zlib=$(WITH_ZLIB)
ifneq ($(OPTIONAL),$(shell cat $(BUILD)/optional 2>/dev/null))
$(shell mkdir -p $(BUILD) && echo '$(OPTIONAL)' >$(BUILD)/optional)
endif

$(BUILD)/stokehold: $(BUILD)/main.o $(NEEDS_LIB)
	$(call say,LINK,$@)
	$(Q)$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $(filter %.o,$^) $(LIB) $(LIBS)

$(BUILD)/libstokehold.a: $(OBJS)
	$(call say,AR,$@)
	$(Q)rm -f $@; $(AR) rcs $@ $^
$(BUILD)/libstokehold.so: $(OBJS)
	$(call say,LINK,$@)
	$(Q)$(CC) $(ALL_CFLAGS) -shared -Wl,-soname,$(@F) -o $@ $^ $(LIBS)

$(BUILD)/%.o: src/%.c $(BUILD)/optional
	@mkdir -p $(@D)
	$(call say,CC,$<)
	$(Q)$(CC) $(ALL_CFLAGS) -DSTOKEHOLD_VERSION='"$(VERSION)"' -c -o $@ $<

# Files compiled in: the shipped configuration and themes are the built-in defaults.
$(BUILD)/gen/%.inc: %
	@mkdir -p $(@D)
	$(Q)od -An -v -tx1 $< | sed 's/ \([0-9a-f][0-9a-f]\)/0x\1,/g' > $@
$(BUILD)/config/builtin.o: $(BUILD)/gen/configs/stokehold.conf.inc

THEMES := $(wildcard themes/*.theme)
$(BUILD)/screen/theme.o: $(THEMES:%=$(BUILD)/gen/%.inc)

# Tests: tests/LAYER/test_NAME.c, one program each.
TESTS   := $(wildcard $(LAYERS:%=tests/%/test_*.c))
TESTBIN := $(TESTS:tests/%.c=$(BUILD)/tests/%)
SUPPORT := $(patsubst tests/%.c,$(BUILD)/tests/%.o,$(wildcard tests/support/*.c))
$(BUILD)/tests/%.o: tests/%.c
	@mkdir -p $(@D)
	$(call say,CC,$<)
	$(Q)$(CC) $(ALL_CFLAGS) -Itests -DSTOKEHOLD_PROGRAM='"$(BUILD)/stokehold"' \
	    -DSTOKEHOLD_SHIM='"$(BUILD)/tests/faults/shim.so"' -c -o $@ $<
# Captures to read are written by libpcap.
$(BUILD)/tests/bus/test_packed: TESTLIBS += -lpcap
# Tests of the verbs run the program itself.
$(filter $(BUILD)/tests/verbs/%,$(TESTBIN)): | $(BUILD)/stokehold
# The terminal of these is an emulator.
EMULATED := $(addprefix $(BUILD)/tests/screen/test_,keyboard walk terminal term term_input terms soak)
$(EMULATED): TESTLIBS += -lvterm -lutil
$(EMULATED): | $(BUILD)/stokehold
# A boat on trial of which everything is known.
VOYAGE := $(BUILD)/tests/report/voyage.o $(BUILD)/tests/report/coverage.o
$(filter $(BUILD)/tests/report/%,$(TESTBIN)): $(VOYAGE)
$(TESTBIN): %: %.o $(SUPPORT) $(NEEDS_LIB)
	$(call say,LINK,$@)
	$(Q)$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $(filter %.o,$^) $(LIB) -lcmocka $(TESTLIBS) $(LIBS)
# A locale that writes 3,5 for three and a half: numbers must not follow it.
export STOKEHOLD_LOCALES := $(abspath $(BUILD)/locale)
$(BUILD)/locale/de_DE.UTF-8:
	@mkdir -p $(@D)
	$(call say,GEN,$@)
	$(Q)localedef -i de_DE -f UTF-8 $(abspath $@)
$(TESTBIN): | $(BUILD)/locale/de_DE.UTF-8
.SECONDARY:

# Writes the golden texts again from what the program draws now; read the difference.
golden:
	$(Q)GOLDEN=write $(MAKE) --no-print-directory test/screen test/report test/base test/wire test/bus/test_mangled test/config test/season/test_stories test/season/test_drawn test/season/test_drawn_watch test/cooling/test_cooling_drawn test/hooks/test_door_feed test/session/test_attached test/rules/test_storm test/plant/test_drawn_boat test/verbs/test_timelines test/verbs/test_sweep test/verbs/test_sails test/verbs/test_summer test/verbs/test_season_verb test/verbs/test_status_words

# Installs what is missing, builds and runs every test; the last line is `N passed, N failed`.
test:
	$(Q)tests/tools/deps build test
	$(Q)$(MAKE) --no-print-directory run-all
test-programs: $(BUILD)/stokehold $(TESTBIN)
list-tests:
	@echo $(TESTBIN)
run-all: test-programs
	$(Q)tests/tools/run-tests $(TESTBIN)

# One change to the source after another, and which of them no test notices.
N    ?= 40
SEED ?= 1
mutate:
	$(Q)tests/tools/deps build test
	$(Q)tests/tools/mutate --count $(N) --seed $(SEED) --build $(BUILD)/mutate $(MUTATE_ARGS)

# make test/wire runs the tests of one layer, make test/wire/test_id one program.
test/%:
	$(Q)$(MAKE) --no-print-directory run-tests TESTBIN="$(filter $(BUILD)/tests/$*%,$(TESTBIN))"
run-tests: $(TESTBIN)
	$(Q)for t in $(TESTBIN); do $$t || exit 1; done

# Benchmarks, fuzzing, tests on a real kernel: each folder says how it is run.
include $(wildcard tests/*/*.mk)

# The list of messages, printed from the table in src/wire/catalogue.c.
docs/messages.md: $(BUILD)/tests/wire/test_catalogue
	$(call say,GEN,$@)
	$(Q)$< --print >$@.new && mv $@.new $@

# What alerts say, from docs/alerts.md.in, the table in src/alerts/action.c and the drills.
docs/alerts.md: $(BUILD)/tests/verbs/test_alerts_page $(BUILD)/stokehold FORCE
	$(call say,GEN,$@)
	$(Q)$< --print >$@.new && mv $@.new $@
FORCE:

# The manual page, from docs/stokehold.1.in and the program's own tables and help texts.
manual: $(BUILD)/tests/verbs/test_manual
	$(call say,GEN,docs/stokehold.1)
	$(Q)$< --print >$(BUILD)/stokehold.1 && cp $(BUILD)/stokehold.1 docs/stokehold.1

# The board and the timeline in the README, from the trip of the demo.
readme: demo-trip
	$(call say,GEN,README.md)
	$(Q)tests/tools/readme $(BUILD)/stokehold >$(BUILD)/README.md && cp $(BUILD)/README.md README.md

# Installs what is missing, builds, makes up a trip on which the starboard impeller fails, and
# replays it on the board; where stdout is no terminal the timeline is printed instead.
demo:
	$(Q)tests/tools/deps build
	$(Q)$(MAKE) --no-print-directory demo-run
demo-trip: $(BUILD)/stokehold
	@mkdir -p $(BUILD)/demo
	$(Q)$< drill --fault impeller --at +06:00 --minutes 14 --seed 3 \
	    -o $(BUILD)/demo/trip.log --truth $(BUILD)/demo/truth.json
demo-run: demo-trip
	$(Q)$(BUILD)/stokehold watch --speed 16 $(BUILD)/demo/trip.log

# Every test again with the address and undefined-behaviour sanitizers, in a tree of its own.
SANITIZE := -O1 -g -fsanitize=address,undefined -fno-sanitize-recover=undefined
asan:
	$(Q)$(MAKE) --no-print-directory BUILD=$(BUILD)/asan CFLAGS="$(SANITIZE)" run-all

# Lines that the tests run, by layer.
coverage:
	$(Q)$(MAKE) --no-print-directory BUILD=$(BUILD)/coverage CFLAGS="-O0 -g --coverage" run-all
	$(Q)tests/tools/coverage $(BUILD)/coverage

deps:
	$(Q)tests/tools/deps build test lint can count arm armhf package debian fleet

install: $(BUILD)/stokehold
	install -d $(DESTDIR)$(PREFIX)/bin $(DESTDIR)$(PREFIX)/share/man/man1 \
	    $(DESTDIR)$(PREFIX)/share/stokehold/themes $(DESTDIR)$(PREFIX)/share/doc/stokehold \
	    $(DESTDIR)$(PREFIX)/share/bash-completion/completions \
	    $(DESTDIR)$(PREFIX)/share/zsh/site-functions
	install -m 755 $(BUILD)/stokehold $(DESTDIR)$(PREFIX)/bin/stokehold
	install -m 644 docs/stokehold.1 $(DESTDIR)$(PREFIX)/share/man/man1/stokehold.1
	install -m 644 $(filter-out configs/debian,$(wildcard configs/*)) $(DESTDIR)$(PREFIX)/share/stokehold/
	install -m 644 $(THEMES) $(DESTDIR)$(PREFIX)/share/stokehold/themes/
	install -m 644 README.md LICENSE $(DESTDIR)$(PREFIX)/share/doc/stokehold/
	install -m 644 docs/completion/stokehold.bash \
	    $(DESTDIR)$(PREFIX)/share/bash-completion/completions/stokehold
	install -m 644 docs/completion/_stokehold $(DESTDIR)$(PREFIX)/share/zsh/site-functions/_stokehold

help:
	@echo 'make              builds $(BUILD)/stokehold'
	@echo 'make demo         installs what is missing, builds, replays a made-up trip with a fault'
	@echo 'make test         installs what is missing, builds, runs every test'
	@echo 'make test/LAYER   runs the tests of one layer; test/LAYER/test_NAME of one program'
	@echo 'make install      installs below PREFIX ($(PREFIX)), all of it below DESTDIR where given'
	@echo 'make lint         format, clang-tidy, direction of includes, sizes'
	@echo 'make asan         every test with the address and undefined-behaviour sanitizers'
	@echo 'make test-can     the live bus, on a kernel of its own in user mode'
	@echo 'make test-arm     the same alerts from the same log, built for another processor'
	@echo 'make mutate       changes to the source that no test notices (N of them, SEED)'
	@echo 'make test-faults  every call of the system that can fail fails in its turn'
	@echo 'make soak         every fault there is, and five days of the board: takes hours'
	@echo 'make deb          the Debian package (DEB_ARCH=arm64, armhf: for small computers)'
	@echo 'make test-package installs, starts, feeds, upgrades and purges it on a fresh Debian'
	@echo 'make test-fleet   a real Prometheus scrapes a running watch'
	@echo 'make coverage     lines that the tests run'
	@echo 'make fuzz         feeds rubbish to what reads other people'"'"'s bytes (FUZZ_SECONDS each)'
	@echo 'make bench        what reading, deciding and showing cost'
	@echo 'make instructions what a frame costs, counted, held to a committed figure'
	@echo 'make bench-trial  do the errors of a sea trial hold the truth'
	@echo 'make bench-detect  how early and how quiet the cooling watch is'
	@echo 'make golden       writes the expected screens, reports and timelines again'
	@echo 'make manual       writes docs/stokehold.1 again from the tables'
	@echo 'make readme       writes the board and the timeline in README.md again'
	@echo 'make deps         installs what any of these needs'
	@echo 'make clean        removes $(BUILD)'
	@echo
	@echo 'BUILD=DIR, CC=clang, CFLAGS=..., V=1 (shows commands), WITH_ZSTD=0,'
	@echo 'WITH_ZLIB=0 (builds without a library that is there).'

clean:
	rm -rf $(BUILD)

.PHONY: all test test-programs list-tests run-all mutate manual readme run-tests golden demo demo-trip demo-run asan coverage deps install help clean
-include $(OBJS:.o=.d) $(BUILD)/main.d $(TESTBIN:=.d) $(SUPPORT:.o=.d) $(VOYAGE:.o=.d)
