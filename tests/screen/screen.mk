# Pictures of every view for the documents, from the demo trip: make screens.
PICTURES := $(foreach view,board helm trend alerts movers bus,$(foreach size,80x24 120x40 160x50 200x60,\
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

# The demo as a film, for the top of the README: before, as it begins, and what it comes to.
FILM := +05:30,+06:05,+06:11,+06:15,+06:19,+06:25,+06:31,+06:37,+06:43,+06:48*,+07:00,+07:17
docs/screens/film.svg: $(BUILD)/tests/screen/picture $(BUILD)/pictures/trip.log
	$(call say,DRAW,$@)
	$(Q)$< $(BUILD)/pictures/trip.log $(FILM) board 120x40 dusk >$@.new && mv $@.new $@
readme: docs/screens/film.svg

screens: $(PICTURES) docs/screens/film.svg

# What drawing costs; make bench begins with it.
bench-draw: $(BUILD)/tests/screen/bench_draw $(BUILD)/pictures/trip.log
	$(Q)$^
bench: bench-draw
.PHONY: screens bench-draw
-include $(BUILD)/tests/screen/picture.d $(BUILD)/tests/screen/bench_draw.d
