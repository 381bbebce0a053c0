package reckon

import (
	"encoding/json"
	"fmt"

	"flitchbook/planner/smoke"
	"flitchbook/planner/unit"
)

// aheadIn is the second form of a smoke document: every slab and smoke day ahead.
type aheadIn struct {
	Name     string      `json:"name,omitempty"`
	Hooks    int         `json:"hooks" minimum:"0" maximum:"200" doc:"of each load"`
	Bottom   *int        `json:"bottom_row,omitempty" minimum:"0" maximum:"200" doc:"of them, in the bottom row; without it every hook takes allergen picks"`
	PerDay   int         `json:"per_day" minimum:"0" maximum:"8" doc:"loads on an open day at most"`
	MaxWait  int         `json:"max_wait" minimum:"0" maximum:"1000" doc:"days after ready on which a slab may still hang"`
	Open     []int       `json:"open" maxItems:"5000" doc:"smoke days, counted from any day 0"`
	Own      []ownIn     `json:"own_on,omitempty" maxItems:"5000" doc:"hooks that the shop's own bacon takes from each load of a day"`
	Conflict [][]string  `json:"conflict,omitempty" maxItems:"1000" doc:"pairs of groups that never share a load"`
	Slabs    []aheadSlab `json:"slabs" maxItems:"5000"`
	Work     int64       `json:"work,omitempty" minimum:"1" doc:"steps of the search at most; ample without it"`
}

type ownIn struct {
	Day   int `json:"day"`
	Hooks int `json:"hooks" minimum:"0" maximum:"200"`
}

type aheadSlab struct {
	ID       int    `json:"id"`
	Ready    int    `json:"ready" doc:"first day it may hang"`
	Pickup   int    `json:"pickup" doc:"promised; a slab can be had the day after its load"`
	Group    string `json:"group" doc:"what it is coated with"`
	Party    string `json:"party,omitempty" doc:"slabs of one party hang in one load"`
	Allergen bool   `json:"allergen,omitempty" doc:"bottom row only"`
}

type aheadOut struct {
	Batches   []batchOut   `json:"batches" doc:"[day, slot, [slab ids]], slots counted from 0"`
	LateDays  int          `json:"late_days"`
	Loads     int          `json:"loads"`
	LateBound int          `json:"late_bound" doc:"no plan is late by fewer days"`
	Bound     int          `json:"bound" doc:"no plan with so few late days has fewer loads"`
	Status    smoke.Status `json:"status"`
}

// batchOut is written [day, slot, [slab ids]].
type batchOut smoke.Batch

func (b batchOut) MarshalJSON() ([]byte, error) { return json.Marshal([]any{b.Day, b.Slot, b.Slabs}) }

func aheadExample() aheadIn {
	six := 6
	in := aheadIn{Hooks: 24, Bottom: &six, PerDay: 1, MaxWait: 8, Open: []int{1, 4, 8, 11}, Own: []ownIn{{1, 8}, {4, 6}, {8, 8}, {11, 6}},
		Conflict: [][]string{{"garlic", "plain"}}}
	for i := range 20 {
		s := aheadSlab{ID: i + 1, Ready: i / 7, Pickup: 5 + i/7, Group: "plain"}
		if i < 3 {
			s.Party = "K14"
		}
		if i == 19 {
			s.Group, s.Allergen = "garlic", true
		}
		in.Slabs = append(in.Slabs, s)
	}
	return in
}

// aheadWork keeps an answer within seconds, whatever the document.
const aheadWork = 100_000_000

func runAhead(in aheadIn) (aheadOut, error) {
	var a smoke.Ahead
	var f unit.Faults
	own := map[int]int{}
	for i, o := range in.Own {
		if own[o.Day] += o.Hooks; own[o.Day] > in.Hooks {
			f.Add(fmt.Sprintf("own_on[%d]", i), fmt.Sprintf("the shop's own bacon cannot take %d of %d hooks", own[o.Day], in.Hooks))
		}
	}
	for _, d := range in.Open {
		hooks := max(0, in.Hooks-own[d])
		bottom := hooks
		if in.Bottom != nil {
			bottom = min(*in.Bottom, hooks)
		}
		a.Open = append(a.Open, smoke.OpenDay{Day: d, Loads: in.PerDay, Hooks: hooks, Bottom: bottom})
	}
	for i, c := range in.Conflict {
		if len(c) != 2 {
			f.Add(fmt.Sprintf("conflict[%d]", i), "a conflict is between two groups")
			continue
		}
		a.Conflict = append(a.Conflict, [2]string{c[0], c[1]})
	}
	if err := f.Err(); err != nil {
		return aheadOut{}, err
	}
	for _, s := range in.Slabs {
		a.Slabs = append(a.Slabs, smoke.Due{ID: s.ID, Party: s.Party, Group: s.Group, Ready: s.Ready, Last: s.Ready + in.MaxWait, Pickup: s.Pickup, Allergen: s.Allergen})
	}
	work := in.Work
	if work == 0 {
		work = aheadWork
	}
	p, err := smoke.PlanAhead(a, work)
	if err != nil {
		return aheadOut{}, err
	}
	out := aheadOut{Batches: []batchOut{}, LateDays: p.LateDays, Loads: p.Loads, LateBound: p.LateBound, Bound: p.Bound, Status: p.Status}
	for _, b := range p.Batches {
		out.Batches = append(out.Batches, batchOut(b))
	}
	return out, nil
}
