package store

import (
	"context"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// TodaySheet is what the day holds, for the counter tablet.
type TodaySheet struct {
	Day     unit.Day
	Classes []TodayClass
	Unbag   []string // tags that may leave their bags today
	Smoke   []string // of today's load
	Out     []string // in the smoke
	Pack    []string // resting
	Shelve  []string // packed, not on the shelf yet
	Over    []ShelfLine
	Holds   []HoldView
	Drafts  int // dates the owner may tell
	Amends  int // dumped slabs that wait for their people or for the shop
	Rooms   []RoomLine
	Scales  []ScaleLine
	Load    *SmokeDay // the load to plan or hang next
}

// TodayClass is a class of today.
type TodayClass struct {
	Code     string
	Title    string
	StartsAt unit.Instant
	People   int // expected
	Came     int
	NotTold  int
	Owing    unit.Money
	Slabs    int
	Unsealed []string
	HasSlabs bool
}

// TodaySheet reads the day.
func (s *Store) TodaySheet(ctx context.Context) (*TodaySheet, error) {
	db := s.read(ctx)
	d := &TodaySheet{Day: s.Today()}
	classes, err := many[shop.Class](db, "starts_at, id", "day = ? AND state NOT IN ?", d.Day, []shop.ClassState{shop.Sketched, shop.ClassOff})
	if err != nil {
		return nil, err
	}
	for _, c := range classes {
		sh, err := s.ClassSheet(ctx, c.Code)
		if err != nil {
			return nil, err
		}
		tc := TodayClass{Code: c.Code, Title: c.Title, StartsAt: c.StartsAt, People: len(sh.Lines), NotTold: sh.NotTold, Owing: sh.Owing}
		for _, l := range sh.Lines {
			if l.State == shop.Came {
				tc.Came++
			}
			tc.Slabs += len(l.Tags)
		}
		tc.Slabs += len(sh.Demos)
		tc.HasSlabs = tc.Slabs > 0
		if tc.Unsealed, err = unsealedTags(db, c.ID); err != nil {
			return nil, err
		}
		d.Classes = append(d.Classes, tc)
	}
	for _, q := range []struct {
		into  *[]string
		where string
		args  []any
	}{
		{&d.Unbag, "state = ? AND unbag_from <= ? AND (NOT EXISTS (SELECT 1 FROM smoke_loads WHERE day = ?) OR id IN (SELECT slab_id FROM load_slabs JOIN smoke_loads ON smoke_loads.id = load_slabs.load_id WHERE smoke_loads.day = ?))",
			[]any{shop.InCure, d.Day, d.Day + 1, d.Day + 1}},
		{&d.Smoke, "state = ? AND id IN (SELECT slab_id FROM load_slabs JOIN smoke_loads ON smoke_loads.id = load_slabs.load_id WHERE smoke_loads.day = ?)", []any{shop.Rinsed, d.Day}},
		{&d.Out, "state = ?", []any{shop.InSmoke}},
		{&d.Pack, "state = ?", []any{shop.Resting}},
		{&d.Shelve, "state = ?", []any{shop.Packed}},
	} {
		if err := db.Model(&shop.Slab{}).Where(q.where, q.args...).Order("class_id, number").Pluck("tag", q.into).Error; err != nil {
			return nil, err
		}
	}
	shelf, err := s.Shelf(ctx)
	if err != nil {
		return nil, err
	}
	for _, l := range shelf {
		if l.Days >= 10 && l.State == shop.OnShelf {
			d.Over = append(d.Over, l)
		}
	}
	if d.Holds, err = s.Holds(ctx); err != nil {
		return nil, err
	}
	open, err := s.amendsOpen(db, s.Now())
	if err != nil {
		return nil, err
	}
	d.Amends = len(open)
	drafts, err := s.DateDrafts(ctx)
	if err != nil {
		return nil, err
	}
	d.Drafts = len(drafts)
	if d.Rooms, err = s.rooms(ctx); err != nil {
		return nil, err
	}
	if d.Scales, err = s.Scales(ctx); err != nil {
		return nil, err
	}
	days, err := s.SmokeDays(ctx)
	if err != nil {
		return nil, err
	}
	for i := range days {
		if days[i].Slabs > 0 && days[i].Refused == "" {
			d.Load = &days[i]
			break
		}
	}
	return d, nil
}
