# make test-can: the tests that need a real SocketCAN stack, in a guest of their own (boot.sh).
# STOKEHOLD_CAN_HERE=1 runs them on this machine instead: as root, it may lose its vcan0, vcan1
# and can0.
CAN_TESTS  := $(patsubst tests/%.c,$(BUILD)/tests/%,$(wildcard tests/can/test_*.c))
CAN_IN     := $(if $(STOKEHOLD_CAN_HERE),,tests/can/boot.sh -t 500)

$(CAN_TESTS): %: %.o $(BUILD)/tests/can/guest.o $(SUPPORT) $(NEEDS_LIB)
	$(call say,LINK,$@)
	$(Q)$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $(filter %.o,$^) $(LIB) -lcmocka $(TESTLIBS) $(LIBS)

test-can:
	$(Q)tests/tools/deps build test can
	$(Q)$(MAKE) --no-print-directory run-test-can
run-test-can: $(BUILD)/stokehold $(CAN_TESTS)
	$(Q)$(CAN_IN) tests/can/all.sh $(CAN_TESTS)

.PHONY: test-can run-test-can
-include $(CAN_TESTS:=.d) $(BUILD)/tests/can/guest.d
