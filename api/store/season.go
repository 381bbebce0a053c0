package store

import (
	"context"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/season"
	"flitchbook/planner/unit"
)

// SeasonWeek is one week of the season sketch.
type SeasonWeek struct {
	Monday   unit.Day
	Classes  []SeasonClass
	Rack     int // most places used on one day of the week, with every seat sold
	RackSold int // the same with the seats sold
	Places   int
	Kills    []SeasonKill
	Closed   []shop.ClosedDay
	Floor    []shop.PlantClosure
	Breaks   []season.Break
}

// SeasonClass is a class on the season sketch.
type SeasonClass struct {
	shop.Class
	Kind    string
	Kill    unit.Day
	Order   int // number of the order that feeds it, 0 for none
	Ready   unit.Day
	Refused string // why it cannot be published as it stands; of sketched classes
}

// SeasonKill is a kill day and its slots.
type SeasonKill struct {
	Day      unit.Day
	Species  string
	Taken    int
	Capacity int
}

// Season sketches the weeks from a day to a day (both within).
func (s *Store) Season(ctx context.Context, from, to unit.Day) ([]SeasonWeek, error) {
	db := s.read(ctx)
	sit, err := s.sittings(db, 0)
	if err != nil {
		return nil, err
	}
	closed, err := many[shop.ClosedDay](db, "day", "day BETWEEN ? AND ?", from.Monday(), to+30)
	if err != nil {
		return nil, err
	}
	floor, err := many[shop.PlantClosure](db, "from_day", "to_day >= ? AND from_day <= ?", from.Monday(), to)
	if err != nil {
		return nil, err
	}
	rules, shut := s.Rules.Curing(), shop.Closed(closed)
	var weeks []SeasonWeek
	at := map[unit.Day]*SeasonWeek{}
	for m := from.Monday(); m <= to; m += 7 {
		weeks = append(weeks, SeasonWeek{Monday: m, Places: s.Rules.RackPlaces})
	}
	for i := range weeks {
		at[weeks[i].Monday] = &weeks[i]
		for _, c := range closed {
			if c.Day.Monday() == weeks[i].Monday {
				weeks[i].Closed = append(weeks[i].Closed, c)
			}
		}
		for _, f := range floor {
			if f.FromDay <= weeks[i].Monday+6 && f.ToDay >= weeks[i].Monday {
				weeks[i].Floor = append(weeks[i].Floor, f)
			}
		}
	}
	for _, d := range rules.Rack(sit, season.Sitting.Full, shut) {
		if w := at[d.Day.Monday()]; w != nil {
			w.Rack = max(w.Rack, d.Used)
		}
	}
	for _, d := range rules.Rack(sit, season.Sitting.Now, shut) {
		if w := at[d.Day.Monday()]; w != nil {
			w.RackSold = max(w.RackSold, d.Used)
		}
	}
	for _, b := range rules.Breaks(sit, season.Sitting.Full, shut) {
		if w := at[b.Day.Monday()]; w != nil {
			w.Breaks = append(w.Breaks, b)
		}
	}
	if err := s.seasonClasses(db, from, to, rules, shut, at); err != nil {
		return nil, err
	}
	var kills []SeasonKill
	err = db.Raw(`SELECT k.day, s.species, s.taken, s.capacity FROM slots s JOIN kill_days k ON k.id = s.kill_day_id
		WHERE k.day BETWEEN ? AND ? ORDER BY k.day, s.species`, from.Monday(), to+6).Scan(&kills).Error
	if err != nil {
		return nil, err
	}
	for _, k := range kills {
		if w := at[k.Day.Monday()]; w != nil {
			w.Kills = append(w.Kills, k)
		}
	}
	return weeks, nil
}

func (s *Store) seasonClasses(db *gorm.DB, from, to unit.Day, rules season.Rules, shut season.Closed, at map[unit.Day]*SeasonWeek) error {
	rows, err := many[shop.Class](db, "starts_at, code", "day BETWEEN ? AND ?", from.Monday(), to+6)
	if err != nil {
		return err
	}
	kinds, err := many[shop.ClassKind](db, "id", "1 = 1")
	if err != nil {
		return err
	}
	byID := map[shop.KindID]shop.ClassKind{}
	for _, k := range kinds {
		byID[k.ID] = k
	}
	var links []struct {
		ID     shop.ClassID
		Kill   unit.Day
		Number int
	}
	err = db.Raw(`SELECT c.id, k.day AS kill, coalesce(o.number, 0) AS number FROM classes c LEFT JOIN kill_days k ON k.id = c.kill_day_id
		LEFT JOIN orders o ON o.id = c.order_id WHERE c.day BETWEEN ? AND ?`, from.Monday(), to+6).Scan(&links).Error
	if err != nil {
		return err
	}
	link := map[shop.ClassID]int{}
	for i, l := range links {
		link[l.ID] = i
	}
	for _, c := range rows {
		k := byID[c.KindID]
		sc := SeasonClass{Class: c, Kind: k.Name}
		if i, ok := link[c.ID]; ok {
			sc.Kill, sc.Order = links[i].Kill, links[i].Number
		}
		if k.Slabs {
			if ch, err := rules.ReadyAbout(c.Day, 0, shut); err == nil {
				sc.Ready = ch.Pack
			}
			if c.State == shop.Sketched {
				v, err := s.verdict(db, c)
				if err != nil {
					return err
				}
				if !v.OK {
					sc.Refused = v.Text
				}
			}
		}
		if w := at[c.Day.Monday()]; w != nil {
			w.Classes = append(w.Classes, sc)
		}
	}
	return nil
}

// Kinds lists the kinds of class the shop offers.
func (s *Store) Kinds(ctx context.Context) ([]shop.ClassKind, error) {
	return many[shop.ClassKind](s.read(ctx), "id", "1 = 1")
}
