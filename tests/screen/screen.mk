# Pictures of every view for the documents, from the demo trip: make screens.
PICTURES := $(foreach view,board helm trend alerts movers bus,$(foreach size,80x24 120x40 200x60,\
              $(foreach theme,day night,docs/screens/$(view)-$(size)-$(theme).svg)))
PICTURES += docs/screens/calm-80x24-day.svg docs/screens/calm-120x40-dusk.svg

$(BUILD)/tests/screen/picture $(BUILD)/tests/screen/bench_draw: %: %.o $(LIB)
	$(call say,LINK,$@)
	$(Q)$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $^ $(LIBS)

$(BUILD)/pictures/trip.log: $(BUILD)/stokehold
	@mkdir -p $(@D)
	$(Q)$< drill --fault impeller --at +06:00 --minutes 14 --seed 3 -o $@

# docs/screens/VIEW-SIZE-THEME.svg; `calm` is the board before anything happened.
docs/screens/%.svg: $(BUILD)/tests/screen/picture $(BUILD)/pictures/trip.log
	$(call say,DRAW,$@)
	@mkdir -p $(@D)
	$(Q)set -- $(subst -, ,$*); view=$$1; at=+06:48; \
	    [ $$view != calm ] || { view=board; at=+05:30; }; \
	    $< $(BUILD)/pictures/trip.log $$at $$view $$2 $$3 >$@.new && mv $@.new $@

screens: $(PICTURES)

# What drawing costs; make bench begins with it.
bench-draw: $(BUILD)/tests/screen/bench_draw $(BUILD)/pictures/trip.log
	$(Q)$^
bench: bench-draw
.PHONY: screens bench-draw
-include $(BUILD)/tests/screen/picture.d $(BUILD)/tests/screen/bench_draw.d
