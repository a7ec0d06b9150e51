# make fuzz: libFuzzer over what reads other people's bytes, with sanitizers. FUZZ_SECONDS each; what
# was found is kept in $(BUILD)/fuzz/corpus_*, so that the next run goes on from there. For each a line
# says how many executions there were, how many places of the code were reached, and when the last new
# one was.
FUZZ_SECONDS ?= 20
FUZZERS      := $(patsubst tests/fuzz/fuzz_%.c,%,$(wildcard tests/fuzz/fuzz_*.c))

fuzz: $(FUZZERS:%=fuzz-%)

# Rounds of each until so many seconds of processor time brought nothing new, and at most FUZZ_MOST
# of them altogether (0: no end); FUZZERS="watch state" takes only those.
FUZZ_QUIET ?= 1800
FUZZ_MOST  ?= 0
fuzz-long: $(FUZZERS:%=fuzz-built-%)
	$(Q)for f in $(FUZZERS); do tests/fuzz/long $$f $(BUILD)/fuzz $(FUZZ_QUIET) $(FUZZ_MOST) || exit 1; done

fuzz-%: fuzz-built-%
	$(Q)cd $(BUILD)/fuzz && ./fuzz_$* -max_total_time=$(FUZZ_SECONDS) -max_len=8192 -timeout=5 \
	    -print_final_stats=1 -verbosity=1 corpus_$* $(FUZZ_SEEDS) >$*.log 2>&1 || \
	    { tail -n 40 $*.log; exit 1; }
	$(Q)tests/fuzz/said $* $(BUILD)/fuzz/$*.log

# One build of the library, so that fuzzers built at the same time do not write it twice.
FUZZ_MAKE = $(MAKE) --no-print-directory BUILD=$(BUILD)/fuzz CC="$(FUZZ_CC)" \
    CFLAGS="-O1 -g -fsanitize=fuzzer-no-link,address,undefined -fno-sanitize-recover=undefined"
fuzz-library:
	$(Q)+$(FUZZ_MAKE) $(BUILD)/fuzz/libstokehold.a

fuzz-built-%: fuzz-library
	$(Q)+$(FUZZ_MAKE) $(BUILD)/fuzz/tests/fuzz/fuzz_$*.o
	$(Q)clang -g -fsanitize=fuzzer,address,undefined -o $(BUILD)/fuzz/fuzz_$* \
	    $(BUILD)/fuzz/tests/fuzz/fuzz_$*.o $(BUILD)/fuzz/libstokehold.a $(LIBS)
	@mkdir -p $(BUILD)/fuzz/corpus_$*
FUZZ_CC ?= clang
# What one execution frees is used again by a later one, and the shadow of a large block is cleared
# where it is: with fresh pages each time the kernel had three quarters of the time of wire.
fuzz-%: export ASAN_OPTIONS ?= $(subst $() ,:,quarantine_size_mb=2 \
    thread_local_quarantine_size_kb=256 clear_shadow_mmap_threshold=1000000000 malloc_context_size=2)
fuzz-%: FUZZ_SEEDS = $(CURDIR)/tests/fuzz/seeds/$*
fuzz-theme: FUZZ_SEEDS = $(CURDIR)/themes

.PHONY: fuzz fuzz-long fuzz-library
