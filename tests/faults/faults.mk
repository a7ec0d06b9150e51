# The shim that makes calls fail (shim.c): loaded before the program by tests of the verbs, and by
# make test-faults.
SHIM := $(BUILD)/tests/faults/shim.so
$(SHIM): tests/faults/shim.c
	@mkdir -p $(@D)
	$(call say,CC,$<)
	$(Q)$(CC) -std=c17 -D_GNU_SOURCE $(WARN) -O1 -g -fPIC -shared -o $@ $< -ldl
$(filter $(BUILD)/tests/verbs/%,$(TESTBIN)): | $(SHIM)

# Every fault in its turn; FAULT_STRIDE=10 every tenth. The live board of lines on a kernel of its own,
# which is slow: there every fourth of those, but for make soak, which sweeps the one on a terminal too.
FAULT_STRIDE ?= 1
LIVE_STRIDE  ?= $$((4 * $(FAULT_STRIDE)))
ON_A_BUS      = $(if $(STOKEHOLD_CAN_HERE),,tests/can/boot.sh -t 10000)
SWEEP         = $(1) $(BUILD)/stokehold $(SHIM) $(BUILD)/faults/$(1)
test-faults:
	$(Q)tests/tools/deps build test can
	$(Q)$(MAKE) --no-print-directory run-faults
run-faults: $(BUILD)/stokehold $(SHIM)
	$(Q)tests/faults/sweep.sh $(call SWEEP,tend) $(FAULT_STRIDE)
	$(Q)tests/faults/sweep.sh $(call SWEEP,sift) $(FAULT_STRIDE)
	$(Q)$(ON_A_BUS) tests/faults/sweep.sh $(call SWEEP,watch) $(LIVE_STRIDE)

# What takes hours and need not be run for each change: every fault, every test that soaks.
soak:
	$(Q)$(MAKE) --no-print-directory test-faults FAULT_STRIDE=1 LIVE_STRIDE=1
	$(Q)$(ON_A_BUS) tests/faults/sweep.sh $(call SWEEP,board) 1
	$(Q)$(MAKE) --no-print-directory test/screen/test_soak
.PHONY: test-faults run-faults soak
