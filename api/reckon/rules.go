package reckon

import (
	"maps"
	"slices"
	"time"

	"flitchbook/planner/season"
	"flitchbook/planner/unit"
)

// weekday is a day of the week as people write it: "Tue".
type weekday string

func (w weekday) day() time.Weekday {
	for d := time.Sunday; d <= time.Saturday; d++ {
		if d.String()[:3] == string(w) {
			return d
		}
	}
	return time.Sunday // the schema lets nothing else through
}

func days(list []weekday) []time.Weekday {
	var out []time.Weekday
	for _, w := range list {
		out = append(out, w.day())
	}
	return out
}

func weekdays(list []time.Weekday) []weekday {
	out := []weekday{}
	for _, d := range list {
		out = append(out, weekday(d.String()[:3]))
	}
	return out
}

type useIn struct {
	Name      string `json:"name"`
	Species   string `json:"species"`
	MinHang   int    `json:"min_hang" doc:"days from kill to class, at least"`
	MaxHang   int    `json:"max_hang" doc:"and at most"`
	Target    int    `json:"target,omitempty" doc:"days to come nearest to; the fewest when not given"`
	Lead      int    `json:"lead" doc:"days from order-by to kill"`
	CutWithin int    `json:"cut_within,omitempty" doc:"days from kill to delivery, for bellies cut off the hanging side"`
}

type slotIn struct {
	Species string `json:"species"`
	PerDay  int    `json:"per_day" minimum:"0"`
}

type ownHookIn struct {
	Day   weekday `json:"day" enum:"Sun,Mon,Tue,Wed,Thu,Fri,Sat"`
	Hooks int     `json:"hooks" minimum:"0"`
}

type hookPlanIn struct {
	Day   unit.Day `json:"day"`
	Hooks int      `json:"hooks" minimum:"0"`
}

type rulesIn struct {
	KillDays     []weekday   `json:"kill_days" enum:"Sun,Mon,Tue,Wed,Thu,Fri,Sat"`
	DeliveryDays []weekday   `json:"delivery_days" enum:"Sun,Mon,Tue,Wed,Thu,Fri,Sat" doc:"empty: the day after the kill"`
	ClassDays    []weekday   `json:"class_days" enum:"Sun,Mon,Tue,Wed,Thu,Fri,Sat"`
	WorkDays     []weekday   `json:"work_days" enum:"Sun,Mon,Tue,Wed,Thu,Fri,Sat"`
	Uses         []useIn     `json:"uses" maxItems:"50"`
	Slots        []slotIn    `json:"slots" maxItems:"50"`
	UnbagDays    []weekday   `json:"unbag_days" enum:"Sun,Mon,Tue,Wed,Thu,Fri,Sat"`
	MinCure      int         `json:"min_cure" doc:"days from seal to earliest unbag"`
	MaxCure      int         `json:"max_cure" doc:"days from seal to latest unbag"`
	Places       int         `json:"rack_places"`
	Hooks        int         `json:"hooks"`
	BottomRow    int         `json:"bottom_row"`
	OwnHooks     []ownHookIn `json:"own_hooks" maxItems:"7"`

	HookPlans   []hookPlanIn `json:"hook_plans,omitempty" maxItems:"400" doc:"days on which the shop's own bacon takes another number of hooks"`
	Resting     int          `json:"resting_places,omitempty" minimum:"0" doc:"for slabs between smoke and packing, own bacon's too; not watched when not given"`
	Shelf       int          `json:"shelf_places,omitempty" minimum:"0"`
	ShelfDays   int          `json:"shelf_days,omitempty" minimum:"0" doc:"days a packet is counted on the ready shelf"`
	Freezer     int          `json:"freezer_places,omitempty" minimum:"0"`
	FreezeDay   int          `json:"freeze_day,omitempty" minimum:"0"`
	FrozenDays  int          `json:"frozen_days,omitempty" minimum:"0"`
	LeftShare   unit.Ratio   `json:"left_share,omitempty" doc:"of packets, counted as not fetched"`
	TableSeats  int          `json:"table_seats,omitempty" minimum:"0"`
	Teachers    int          `json:"teachers,omitempty" minimum:"0" doc:"who can teach at one time"`
	SealBags    int          `json:"seal_bags,omitempty" minimum:"0" doc:"bags the sealer takes at once"`
	SealSeconds int          `json:"seal_seconds,omitempty" minimum:"0" maximum:"3600"`
	SealMinutes int          `json:"sealing_minutes,omitempty" minimum:"0" maximum:"1440" doc:"minutes of a class there are for sealing"`
}

func (r rulesIn) rules() season.Rules {
	out := season.Rules{KillDays: days(r.KillDays), DeliveryDays: days(r.DeliveryDays), ClassDays: days(r.ClassDays), WorkDays: days(r.WorkDays),
		UnbagDays: days(r.UnbagDays), MinCure: r.MinCure, MaxCure: r.MaxCure, Places: r.Places, Hooks: r.Hooks, BottomRow: r.BottomRow,
		Resting: r.Resting, Shelf: r.Shelf, ShelfDays: r.ShelfDays, Freezer: r.Freezer, FreezeDay: r.FreezeDay, FrozenDays: r.FrozenDays, LeftShare: r.LeftShare,
		TableSeats: r.TableSeats, Teachers: r.Teachers, SealBags: r.SealBags,
		SealCycle: time.Duration(r.SealSeconds) * time.Second, SealWithin: time.Duration(r.SealMinutes) * time.Minute}
	for _, p := range r.HookPlans {
		if out.HookPlans == nil {
			out.HookPlans = map[unit.Day]int{}
		}
		out.HookPlans[p.Day] = p.Hooks
	}
	for _, u := range r.Uses {
		out.Uses = append(out.Uses, season.Use{Name: u.Name, Species: u.Species, MinHang: u.MinHang, MaxHang: u.MaxHang, Target: u.Target, Lead: u.Lead, CutWithin: u.CutWithin})
	}
	for _, s := range r.Slots {
		out.Slots = append(out.Slots, season.Slot{Species: s.Species, PerDay: s.PerDay})
	}
	for _, h := range r.OwnHooks {
		out.OwnHooks = append(out.OwnHooks, season.OwnHook{Day: h.Day.day(), Hooks: h.Hooks})
	}
	return out
}

func rulesFrom(r season.Rules) rulesIn {
	out := rulesIn{KillDays: weekdays(r.KillDays), DeliveryDays: weekdays(r.DeliveryDays), ClassDays: weekdays(r.ClassDays), WorkDays: weekdays(r.WorkDays),
		Uses: []useIn{}, Slots: []slotIn{}, UnbagDays: weekdays(r.UnbagDays), MinCure: r.MinCure, MaxCure: r.MaxCure,
		Places: r.Places, Hooks: r.Hooks, BottomRow: r.BottomRow, OwnHooks: []ownHookIn{},
		Resting: r.Resting, Shelf: r.Shelf, ShelfDays: r.ShelfDays, Freezer: r.Freezer, FreezeDay: r.FreezeDay, FrozenDays: r.FrozenDays, LeftShare: r.LeftShare,
		TableSeats: r.TableSeats, Teachers: r.Teachers, SealBags: r.SealBags,
		SealSeconds: int(r.SealCycle / time.Second), SealMinutes: int(r.SealWithin / time.Minute)}
	for _, d := range slices.Sorted(maps.Keys(r.HookPlans)) {
		out.HookPlans = append(out.HookPlans, hookPlanIn{d, r.HookPlans[d]})
	}
	for _, u := range r.Uses {
		out.Uses = append(out.Uses, useIn{u.Name, u.Species, u.MinHang, u.MaxHang, u.Target, u.Lead, u.CutWithin})
	}
	for _, s := range r.Slots {
		out.Slots = append(out.Slots, slotIn{s.Species, s.PerDay})
	}
	for _, h := range r.OwnHooks {
		out.OwnHooks = append(out.OwnHooks, ownHookIn{weekday(h.Day.String()[:3]), h.Hooks})
	}
	return out
}
