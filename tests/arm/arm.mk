# make test-arm: the same log gives the same alerts on every processor. The program is built for
# 64-bit ARM by Debian's cross compiler, all but the screen, and sifts ten drills under qemu; what
# it writes is compared with what this machine's own build writes, byte for byte. Then the tests of
# all that decides, from base to rules, under qemu; cmocka for them is unpacked beside the build.
ARM_CC    ?= aarch64-linux-gnu-gcc
ARM_RUN   ?= qemu-aarch64-static
ARM_BUILD := $(BUILD)/arm

$(BUILD)/arm-sift: $(BUILD)/tests/arm/sift.o $(filter-out %/verbs/verbs.o %/screen/term.o,$(OBJS))
	$(call say,LINK,$@)
	$(Q)rm -f $@.a; $(AR) rcs $@.a $(filter-out $<,$^)
	$(Q)$(CC) $(ALL_CFLAGS) -static -o $@ $< $@.a -lm -lpthread

test-arm: $(BUILD)/stokehold
	$(Q)tests/tools/deps arm
	$(Q)$(MAKE) --no-print-directory BUILD=$(ARM_BUILD) CC="$(ARM_CC)" AR=ar \
	    WITH_PCAP=0 WITH_ZSTD=0 WITH_ZLIB=0 $(ARM_BUILD)/arm-sift
	$(Q)tests/arm/compare $(BUILD)/stokehold $(ARM_BUILD) $(ARM_RUN) $(ARM_BUILD)/arm-sift
	$(Q)$(MAKE) --no-print-directory test-arm-programs
# Of bus/ all but what libpcap writes for it; some of the others stand on keeper/ and drill/.
ARM_LAYERS := base config bus wire cooling season plant alerts rules
ARM_ROOT    = $(abspath $(ARM_BUILD))/cmocka/root/usr
$(ARM_BUILD)/cmocka/root:
	$(Q)tests/package/fetch.sh arm64 $(ARM_BUILD)/cmocka libcmocka-dev libcmocka0
test-arm-programs: | $(ARM_BUILD)/cmocka/root
	$(Q)TEST_SECONDS=3000 TEST_RUN="$(ARM_RUN) -L /usr/aarch64-linux-gnu -E LD_LIBRARY_PATH=$(ARM_ROOT)/lib/aarch64-linux-gnu" \
	    $(MAKE) --no-print-directory BUILD=$(ARM_BUILD)/tested CC="$(ARM_CC)" AR=ar WITH_PCAP=0 WITH_ZSTD=0 WITH_ZLIB=0 \
	    LAYERS="$(ARM_LAYERS) keeper drill" CFLAGS="-O2 -g -I$(ARM_ROOT)/include" LDFLAGS=-L$(ARM_ROOT)/lib/aarch64-linux-gnu \
	    LIBS="-lm -lpthread" arm-tests
arm-tests: $(filter-out %/bus/test_packed,$(filter $(ARM_LAYERS:%=$(BUILD)/tests/%/%),$(TESTBIN)))
	$(Q)tests/tools/run-tests $^
.PHONY: test-arm test-arm-programs arm-tests
