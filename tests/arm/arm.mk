# make test-arm: the same log gives the same alerts on every processor. The program is built for
# 64-bit ARM by Debian's cross compiler, all but the screen, and sifts ten drills under qemu; what
# it writes is compared with what this machine's own build writes, byte for byte.
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
.PHONY: test-arm
