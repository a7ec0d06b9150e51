# The shim that makes calls fail (shim.c): loaded before the program by tests of the verbs, and by
# make test-faults.
SHIM := $(BUILD)/tests/faults/shim.so
$(SHIM): tests/faults/shim.c
	@mkdir -p $(@D)
	$(call say,CC,$<)
	$(Q)$(CC) -std=c17 -D_GNU_SOURCE $(WARN) -O1 -g -fPIC -shared -o $@ $< -ldl
$(filter $(BUILD)/tests/verbs/%,$(TESTBIN)): | $(SHIM)

# What a terminal has shown of some bytes (seen.c), for the board on one.
SEEN := $(BUILD)/tests/faults/seen
$(SEEN): tests/faults/seen.c
	@mkdir -p $(@D)
	$(call say,LINK,$@)
	$(Q)$(CC) -std=c17 -D_GNU_SOURCE $(WARN) -O1 -g -o $@ $< -lvterm

# Every fault in its turn; FAULT_STRIDE=10 every tenth. The live board of lines on a kernel of its own,
# which is slow: there every fourth of those, on a terminal every eighth, but for make soak.
FAULT_STRIDE ?= 1
LIVE_STRIDE  ?= $$((4 * $(FAULT_STRIDE)))
BOARD_STRIDE ?= $$((8 * $(FAULT_STRIDE)))
ON_A_BUS      = $(if $(STOKEHOLD_CAN_HERE),,tests/can/boot.sh -t 10000)
# FAULT_OFFSET=3 begins three calls later: others than with the same stride before.
FAULT_OFFSET ?= 0
SWEEP         = $(1) $(BUILD)/stokehold $(SHIM) $(BUILD)/faults/$(1)
test-faults:
	$(Q)tests/tools/deps build test can
	$(Q)$(MAKE) --no-print-directory run-faults
run-faults: $(BUILD)/stokehold $(SHIM) $(SEEN)
	$(Q)tests/faults/sweep.sh $(call SWEEP,tend) $(FAULT_STRIDE) $(FAULT_OFFSET)
	$(Q)for case in sift muster signoff trial; do \
	    tests/faults/sweep.sh $(call SWEEP,$$case) $(FAULT_STRIDE) $(FAULT_OFFSET) || exit 1; done
	$(Q)$(ON_A_BUS) tests/faults/sweep.sh $(call SWEEP,watch) $(LIVE_STRIDE) $(FAULT_OFFSET)
	$(Q)$(ON_A_BUS) tests/faults/sweep.sh $(call SWEEP,board) $(BOARD_STRIDE) $(FAULT_OFFSET)

# What takes hours and need not be run for each change: every fault, every test that soaks.
# SOAK_STRIDE=8 tries every eighth fault.
SOAK_STRIDE ?= 1
soak:
	$(Q)$(MAKE) --no-print-directory test-faults FAULT_STRIDE=$(SOAK_STRIDE) LIVE_STRIDE=$(SOAK_STRIDE) \
	    BOARD_STRIDE=$(SOAK_STRIDE)
	$(Q)$(MAKE) --no-print-directory test/screen/test_soak
.PHONY: test-faults run-faults soak
