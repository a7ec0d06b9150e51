# The shim that makes calls fail (shim.c): loaded before the program by tests of the verbs, and by
# make test-faults.
SHIM := $(BUILD)/tests/faults/shim.so
$(SHIM): tests/faults/shim.c
	@mkdir -p $(@D)
	$(call say,CC,$<)
	$(Q)$(CC) -std=c17 -D_GNU_SOURCE $(WARN) -O1 -g -fPIC -shared -o $@ $< -ldl
$(filter $(BUILD)/tests/verbs/%,$(TESTBIN)): | $(SHIM)

# Every fault in its turn; FAULT_STRIDE=10 every tenth.
FAULT_STRIDE ?= 1
test-faults: $(BUILD)/stokehold $(SHIM)
	$(Q)tests/faults/sweep.sh $(BUILD)/stokehold $(SHIM) $(BUILD)/faults $(FAULT_STRIDE)
.PHONY: test-faults
