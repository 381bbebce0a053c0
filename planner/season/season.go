// Package season answers whether a season fits: which kill day feeds a class and by
// when it must be ordered, when bacon is ready, and whether rack and hooks bear it.
//
// # Method
//
// Kill days (kill.go). A kill day d fits a class when the plant kills on that weekday
// and is not closed for the species, the class lies min to max days of hanging later,
// a delivery day lies between, the plant has slots left, and d − lead ≥ today. Beef
// takes the day nearest its target hang, everything else the latest. Bellies for a
// bacon class are cut from sides hung at most so many days and then keep vacuum-packed:
// both limits are counted from the kill. Several classes fed by one kill need a day
// that fits them all. Assign chooses for a whole season at once, exactly: most orders
// fed first, then the fewest steps down from first choices.
//
// Ready-about (chain.go). Seal day is day 0; earliest unbag is day 12 plus a day for
// each started 24 h the room was too cold for the cure to work; unbag, smoke and pack
// follow on fixed weekdays, and a closed day in a chain rules the whole chain out.
//
// Room (room.go, hooks.go, shelf.go, table.go). A slab lies on the rack from seal day to
// planned unbag day, both included. Hooks and bottom row are filled first sealed, first
// hung, with the shop's own bacon of that very day taken off first and no load larger
// than the resting room; a slab that cannot hang before its last unbag day breaks the
// season. Seats at the tables, hands to teach and the sealer's minutes are counted for
// sittings that meet. Ready shelf, freezer and kill slots of a bacon class are said and
// do not refuse: packets may be fetched sooner, and bellies have other sources.
//
// Publishing (publish.go) takes every open class as full and answers with the first date
// that breaks, the most seats that fit, and the first later same weekday on which the
// whole class fits. Sketch (sketch.go) does it for a whole season. Verdict.Check
// (verify.go) counts again slab by slab, by other means.
//
// # Sources
//
// Hanging limits are trade practice and house rules: USDA Farmers' Bulletin "Pork:
// slaughtering, cutting, preserving, and cooking on the farm" (24–48 h chill before
// cutting), Indiana Board of Animal Health (lamb 7–10 days), beef-council leaflet
// (14–21 days). The thirty-day limit for raw meat that a shop vacuum-packs without a
// variance (Food Code 3-502.12) lies well above the house's fourteen. Rack, hooks and
// weekdays are the demo shop's; every one is a field of Rules. The written plan and
// the local inspector decide, not this package.
package season

import (
	"fmt"
	"slices"
	"time"

	"flitchbook/planner/unit"
)

// Rules are a shop's and its plant's working rules.
type Rules struct {
	KillDays     []time.Weekday // the plant's
	DeliveryDays []time.Weekday // the plant's; none = the day after the kill
	ClassDays    []time.Weekday // days a class may be moved to
	WorkDays     []time.Weekday // days with hands for unbagging, smoking and packing
	Uses         []Use          // what classes ask of a kill, by name
	Slots        []Slot         // our places on one kill day; a species not named has no limit

	UnbagDays []time.Weekday // smoke the next day, pack the day after
	MinCure   int            // days from seal to earliest unbag
	MaxCure   int            // days from seal to latest unbag

	Places    int       // slab places in the cure cooler; overflow is the owner's to give
	Hooks     int       // in the smokehouse
	BottomRow int       // of those, where slabs with allergen crusts may hang
	OwnHooks  []OwnHook // taken by the shop's own bacon
	// HookPlans are the days on which the shop's own bacon takes another number of hooks.
	HookPlans map[unit.Day]int
	Resting   int // slab places for smoked slabs until they are packed, own bacon's too; 0 = not watched

	Shelf      int        // places for packets ready to be fetched; 0 = not watched
	ShelfDays  int        // days a packet is counted there
	Freezer    int        // places for packets nobody fetched; 0 = not watched
	FreezeDay  int        // days on the shelf after which a packet is frozen
	FrozenDays int        // days after packing until which it is kept
	LeftShare  unit.Ratio // of packets, counted as not fetched by then

	TableSeats int           // places at the tables; 0 = not watched
	Teachers   int           // who can teach at one time; 0 = not watched
	SealBags   int           // bags the sealer takes at once; 0 = not watched
	SealCycle  time.Duration // of the sealer
	SealWithin time.Duration // of a class, for its sealing
}

// Use is what one kind of class asks of a kill day.
type Use struct {
	Name    string
	Species string
	MinHang int // days from kill to class, at least
	MaxHang int // and at most
	Target  int // days to come nearest to; 0 = the fewest
	Lead    int // days the order must stand before the kill
	// CutWithin limits the days from kill to the last delivery, where bellies are cut
	// off the hanging side and vacuum-packed; 0 = the side itself waits for the class.
	CutWithin int
}

// Slot is how many animals of ours the plant takes on one kill day.
type Slot struct {
	Species string
	PerDay  int
}

// OwnHook is how many hooks the shop's own bacon takes on a weekday.
type OwnHook struct {
	Day   time.Weekday
	Hooks int
}

// DefaultRules are the demo shop's.
func DefaultRules() Rules {
	return Rules{
		KillDays:     []time.Weekday{time.Tuesday, time.Wednesday},
		DeliveryDays: []time.Weekday{time.Thursday},
		ClassDays:    []time.Weekday{time.Tuesday, time.Wednesday, time.Thursday, time.Friday, time.Saturday},
		WorkDays:     []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday, time.Saturday},
		Uses: []Use{
			{Name: "bacon", Species: "pig", MinHang: 1, MaxHang: 14, Lead: 21, CutWithin: 7},
			{Name: "pig clinic", Species: "pig", MinHang: 2, MaxHang: 7, Lead: 21},
			{Name: "lamb clinic", Species: "lamb", MinHang: 3, MaxHang: 10, Lead: 21},
			{Name: "venison clinic", Species: "deer", MinHang: 5, MaxHang: 10, Lead: 45},
			{Name: "beef clinic", Species: "beef", MinHang: 14, MaxHang: 21, Target: 17, Lead: 60},
		},
		Slots:     []Slot{{"pig", 4}},
		UnbagDays: []time.Weekday{time.Monday, time.Thursday},
		MinCure:   12, MaxCure: 20,
		Places: 36, Hooks: 24, BottomRow: 6,
		OwnHooks: []OwnHook{{time.Tuesday, 8}, {time.Friday, 6}}, Resting: 24,
		Shelf: 30, ShelfDays: 7, Freezer: 20, FreezeDay: 14, FrozenDays: 60, LeftShare: 5 * unit.Percent,
		TableSeats: 40, Teachers: 1, SealBags: 2, SealCycle: 90 * time.Second, SealWithin: 20 * time.Minute,
	}
}

// Check lists everything wrong with the rules.
func (r Rules) Check() unit.Faults {
	var f unit.Faults
	if len(r.KillDays) == 0 {
		f.Add("kill_days", "the plant kills on no day")
	}
	if len(r.UnbagDays) == 0 {
		f.Add("unbag_days", "bacon is unbagged on no day")
	}
	if r.MinCure < 1 || r.MaxCure < r.MinCure || r.MaxCure > 60 {
		f.Add("max_cure", "cure days must run from at least 1 to at most 60")
	}
	if r.Places < 0 || r.Hooks < 0 || r.BottomRow < 0 || r.BottomRow > r.Hooks {
		f.Add("bottom_row", "places and hooks cannot be below zero, nor the bottom row longer than all hooks")
	}
	for _, h := range r.OwnHooks {
		if h.Hooks < 0 || h.Hooks > r.Hooks {
			f.Add("own_hooks", "the shop's own bacon takes between none and all hooks")
		}
	}
	for d, n := range r.HookPlans {
		if n < 0 || n > r.Hooks {
			f.Add("own_hooks", fmt.Sprintf("on %s the shop's own bacon takes between none and all hooks", d.Show()))
		}
	}
	for _, n := range []int{r.Resting, r.Shelf, r.ShelfDays, r.Freezer, r.FreezeDay, r.FrozenDays, r.TableSeats, r.Teachers, r.SealBags} {
		if n < 0 || n > 10_000 {
			f.Add("places", "places, seats, days and hands must lie between 0 and 10,000")
			break
		}
	}
	if r.LeftShare < 0 || r.LeftShare > unit.One {
		f.Add("left_share", "the share not fetched must lie between 0 and 100 %")
	}
	if r.SealBags > 0 && (r.SealCycle <= 0 || r.SealWithin <= 0) {
		f.Add("seal_cycle", "a sealer needs its cycle and the time there is for sealing")
	}
	names := map[string]bool{}
	for _, u := range r.Uses {
		if u.Name == "" || names[u.Name] {
			f.Add("uses", "every use needs a name of its own")
		}
		names[u.Name] = true
		if u.MinHang < 0 || u.MaxHang < u.MinHang || u.MaxHang > 60 || u.Lead < 0 || u.Lead > 730 || u.Target < 0 || u.CutWithin < 0 {
			f.Add("uses", "hanging days of "+u.Name+" must run from 0 to at most 60, and lead be within two years")
		}
	}
	return f
}

func (r Rules) use(name string) (Use, bool) {
	i := slices.IndexFunc(r.Uses, func(u Use) bool { return u.Name == name })
	if i < 0 {
		return Use{}, false
	}
	return r.Uses[i], true
}

// slots is our places a kill day for a species, or false for no limit.
func (r Rules) slots(species string) (int, bool) {
	i := slices.IndexFunc(r.Slots, func(s Slot) bool { return s.Species == species })
	if i < 0 {
		return 0, false
	}
	return r.Slots[i].PerDay, true
}

// OwnOn is how many hooks the shop's own bacon takes on a smoke day.
func (r Rules) OwnOn(d unit.Day) int {
	if n, ok := r.HookPlans[d]; ok {
		return min(n, r.Hooks)
	}
	n := 0
	for _, o := range r.OwnHooks {
		if o.Day == d.Weekday() {
			n += o.Hooks
		}
	}
	return min(n, r.Hooks)
}

// Closed is the days the shop is closed altogether, each with its reason or "".
type Closed map[unit.Day]string

// Has says whether the shop is closed on d.
func (c Closed) Has(d unit.Day) bool { _, ok := c[d]; return ok }
