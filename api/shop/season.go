package shop

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"flitchbook/planner/season"
	"flitchbook/planner/unit"
)

// Season is the house rules as planner/season reckons with them: the plant's days, what
// each kind of class asks of a kill, rack, hooks and working days.
func (r Rules) Season(plant Plant, kinds []ClassKind) season.Rules {
	s := r.Curing()
	s.KillDays = plant.Kills()
	s.DeliveryDays = []time.Weekday{time.Weekday(plant.DeliveryWeekday)}
	s.Slots = []season.Slot{{Species: "pork", PerDay: r.SlotsPerKill}}
	for _, k := range kinds {
		if k.Species == "" {
			continue
		}
		u := season.Use{Name: k.Code, Species: k.Species, MinHang: k.HangMin, MaxHang: k.HangMax, Target: k.HangTarget, Lead: k.LeadDays}
		if k.Piece == "belly" {
			// The side hangs at most HangMax days; cut off and vacuum-packed the
			// belly then keeps for the class (R19).
			u.MinHang, u.MaxHang, u.CutWithin = max(k.HangMin, 1), r.BellyKeeps, k.HangMax
		}
		s.Uses = append(s.Uses, u)
	}
	return s
}

// Curing is the part of Season that needs neither plant nor kinds: from seal to
// ready-about, rack and hooks.
func (r Rules) Curing() season.Rules {
	s := season.Rules{
		UnbagDays: weekdays(r.UnbagDays), MinCure: r.CureDays, MaxCure: r.LatestDay,
		Places: r.RackPlaces, Hooks: r.Hooks, BottomRow: r.BottomRow,
		ClassDays: weekdays(r.CounterDays),
		Resting:   r.RestPlaces, ShelfDays: r.ShelfDays, FreezeDay: r.FreezeDay, FrozenDays: r.AskDay, LeftShare: r.LeftShare,
		TableSeats: r.TableSeats, Teachers: r.Teachers,
		SealBags: r.SealBags, SealCycle: time.Duration(r.SealCycle) * time.Second, SealWithin: time.Duration(r.SealWithin) * time.Minute,
	}
	for d := time.Monday; d <= time.Saturday; d++ {
		s.WorkDays = append(s.WorkDays, d)
	}
	for d, n := range r.HouseHooks {
		if n > 0 {
			s.OwnHooks = append(s.OwnHooks, season.OwnHook{Day: time.Weekday(d), Hooks: n})
		}
	}
	return s
}

func weekdays(days []int) []time.Weekday {
	var out []time.Weekday
	for _, d := range days {
		out = append(out, time.Weekday(d))
	}
	return out
}

// Kills reads the plant's kill weekdays; what is not a weekday number is passed over.
func (p Plant) Kills() []time.Weekday {
	var out []time.Weekday
	for _, s := range strings.Split(p.KillWeekdays, ",") {
		if d, err := strconv.Atoi(strings.TrimSpace(s)); err == nil && d >= 0 && d <= 6 {
			out = append(out, time.Weekday(d))
		}
	}
	return out
}

// SlotCapacity is how many animals of ours a plant takes on one kill day (R20): the
// house rule for pigs, room enough for the few of any other species.
func (r Rules) SlotCapacity(species string) int {
	if species == "pork" {
		return r.SlotsPerKill
	}
	return 12
}

// Closed makes the closed days of a shop ready for planner/season. Days on which only
// the counter is shut do not stop the work.
func Closed(days []ClosedDay) season.Closed {
	c := season.Closed{}
	for _, d := range days {
		if d.Work {
			c[d.Day] = d.Reason
		}
	}
	return c
}

// Stops says whether the closure keeps a species from being killed on a day.
func (c PlantClosure) Stops(day unit.Day, species string) bool {
	return c.FromDay <= day && day <= c.ToDay && (c.Species == "" || slices.Contains(c.SpeciesList(), species))
}

// SpeciesList is the species it names; none means all.
func (c PlantClosure) SpeciesList() []string {
	var out []string
	for _, s := range strings.Split(c.Species, ",") {
		if s = strings.TrimSpace(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}
