# GNU make. Everything built goes below $(BUILD). `make help` lists the targets.
BUILD   ?= build
PREFIX  ?= /usr/local
CC      ?= gcc
CFLAGS  ?= -O2 -g
WARN     = -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wstrict-prototypes -Wmissing-prototypes
ALL_CFLAGS  = -std=c17 -D_GNU_SOURCE $(WARN) -Isrc -I$(BUILD)/gen -MMD -MP $(EXTRA_CFLAGS) $(CFLAGS)
# -ffp-contract=off: the same log must give the same alerts on every processor.
ALL_CFLAGS += -fno-common -ffp-contract=off
LIBS     = -lncursesw -ltinfo -linih -lm -lpthread $(OPTIONAL_LIBS)
V       ?= 0
ifeq ($(V),0)
Q = @
say = @printf '  %-5s %s\n' $(1) $(2)
endif

VERSION := 0.1.0
LAYERS  ?= base config bus wire plant alerts record hooks report screen drill verbs
SRCS    := $(wildcard $(LAYERS:%=src/%/*.c))
OBJS    := $(SRCS:src/%.c=$(BUILD)/%.o)
LIB     := $(BUILD)/libstokehold.a

# Optional libraries: used where they are, `make WITH_PCAP=0` builds without.
have     = $(shell printf '\#include <$(1)>\n' | $(CC) -E -x c - >/dev/null 2>&1 && echo 1)
WITH_PCAP ?= $(call have,pcap/pcap.h)
WITH_ZSTD ?= $(call have,zstd.h)
WITH_ZLIB ?= $(call have,zlib.h)
ifeq ($(WITH_PCAP),1)
ALL_CFLAGS += -DWITH_PCAP
OPTIONAL_LIBS += -lpcap
endif
ifeq ($(WITH_ZSTD),1)
ALL_CFLAGS += -DWITH_ZSTD
OPTIONAL_LIBS += -lzstd
endif
ifeq ($(WITH_ZLIB),1)
ALL_CFLAGS += -DWITH_ZLIB
OPTIONAL_LIBS += -lz
endif

all: $(BUILD)/stokehold

$(BUILD)/stokehold: $(BUILD)/main.o $(LIB)
	$(call say,LINK,$@)
	$(Q)$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $^ $(LIBS)

$(LIB): $(OBJS)
	$(call say,AR,$@)
	$(Q)rm -f $@; $(AR) rcs $@ $^

$(BUILD)/%.o: src/%.c
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
	$(Q)$(CC) $(ALL_CFLAGS) -Itests -DSTOKEHOLD_PROGRAM='"$(BUILD)/stokehold"' -c -o $@ $<
# Tests of the verbs run the program itself.
$(filter $(BUILD)/tests/verbs/%,$(TESTBIN)): | $(BUILD)/stokehold
$(TESTBIN): %: %.o $(SUPPORT) $(LIB)
	$(call say,LINK,$@)
	$(Q)$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $^ -lcmocka $(TESTLIBS) $(LIBS)
# A locale that writes 3,5 for three and a half: numbers must not follow it.
export STOKEHOLD_LOCALES := $(abspath $(BUILD)/locale)
$(BUILD)/locale/de_DE.UTF-8:
	@mkdir -p $(@D)
	$(call say,GEN,$@)
	$(Q)localedef -i de_DE -f UTF-8 $(abspath $@)
$(TESTBIN): | $(BUILD)/locale/de_DE.UTF-8
.SECONDARY:

# Writes the golden texts anew from what the program draws now; read the difference.
golden:
	$(Q)GOLDEN=write $(MAKE) --no-print-directory test/screen

unit: $(TESTBIN)
	$(Q)set -e; for t in $(TESTBIN); do $$t >$$t.out 2>&1 || { cat $$t.out; echo "FAILED: $$t"; exit 1; }; done; echo "unit: $(words $(TESTBIN)) programs passed"

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

clean:
	rm -rf $(BUILD)

.PHONY: all unit run-tests golden clean
-include $(OBJS:.o=.d) $(BUILD)/main.d $(TESTBIN:=.d)
