# make fuzz: libFuzzer over what reads other people's bytes, with sanitizers. FUZZ_SECONDS each.
FUZZ_SECONDS ?= 20
FUZZERS      := $(patsubst tests/fuzz/fuzz_%.c,%,$(wildcard tests/fuzz/fuzz_*.c))

fuzz: $(FUZZERS:%=fuzz-%)

fuzz-%:
	$(Q)$(MAKE) --no-print-directory BUILD=$(BUILD)/fuzz CC=clang \
	    CFLAGS="-O1 -g -fsanitize=fuzzer-no-link,address,undefined -fno-sanitize-recover=undefined" \
	    $(BUILD)/fuzz/libstokehold.a $(BUILD)/fuzz/tests/fuzz/fuzz_$*.o
	$(Q)clang -g -fsanitize=fuzzer,address,undefined -o $(BUILD)/fuzz/fuzz_$* \
	    $(BUILD)/fuzz/tests/fuzz/fuzz_$*.o $(BUILD)/fuzz/libstokehold.a $(LIBS)
	@mkdir -p $(BUILD)/fuzz/corpus_$*
	$(Q)cd $(BUILD)/fuzz && ./fuzz_$* -max_total_time=$(FUZZ_SECONDS) -max_len=8192 -timeout=5 \
	    -print_final_stats=1 corpus_$* $(CURDIR)/tests/fuzz/seeds/$*

.PHONY: fuzz
