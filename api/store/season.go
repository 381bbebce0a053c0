package store

import (
	"context"
	"slices"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/season"
	"flitchbook/planner/unit"
)

// SeasonSketch is the season from a week to a week: classes, rooms, smoke days, kills,
// and what breaks with every seat sold and everything sketched published.
type SeasonSketch struct {
	From, To   unit.Day // a Monday and a Sunday
	Weeks      []SeasonWeek
	Days       []season.DayUse
	Loads      []season.SmokeDay
	Breaks     []season.Break // what would refuse; the first at its head
	Notes      []season.Break // what is tight and refuses nothing
	Placeless  []season.Placeless
	Rules      season.Rules
	Sketched   int // classes waiting to be published
	Publishing int // of those, how many fit if published in the order of their days
}

// SeasonWeek is one week of the season sketch.
type SeasonWeek struct {
	Monday   unit.Day
	Classes  []SeasonClass
	Rack     int // most places used on one day of the week, with every seat sold
	RackSold int // the same with the seats sold
	Places   int
	Loads    []season.SmokeDay
	Rest     int // most slabs waiting to be packed on one day
	Shelf    int // most packets on the shelf
	Frozen   int
	Kills    []SeasonKill
	Closed   []shop.ClosedDay
	Floor    []shop.PlantClosure
	Breaks   []season.Break
	Notes    []season.Break
}

// SeasonClass is a class on the season sketch.
type SeasonClass struct {
	shop.Class
	Kind    string
	Kill    unit.Day
	Order   int // number of the order that feeds it, 0 for none
	Ready   unit.Day
	Refused string   // why it cannot be published as it stands; of sketched classes
	Strains []string // what it strains without being refused
}

// SeasonKill is a kill day and its slots.
type SeasonKill struct {
	Day      unit.Day
	Species  string
	Taken    int
	Capacity int
}

// Season sketches the weeks from a day to a day (both within).
func (s *Store) Season(ctx context.Context, from, to unit.Day) (*SeasonSketch, error) {
	db := s.read(ctx)
	d, err := s.diary(db)
	if err != nil {
		return nil, err
	}
	out := &SeasonSketch{From: from.Monday(), To: to.Monday() + 6, Rules: d.Rules, Sketched: len(d.Sketched)}
	plan := d.Rules.Sketch(d.Season, d.Sketched)
	for _, a := range plan.Answers {
		if a.OK {
			out.Publishing++
		}
	}
	out.Placeless = d.Rules.Placeless(d.Season.Open, d.Season.Closed)
	at := map[unit.Day]*SeasonWeek{}
	for m := out.From; m <= out.To; m += 7 {
		out.Weeks = append(out.Weeks, SeasonWeek{Monday: m, Places: d.Rules.Places})
	}
	for i := range out.Weeks {
		at[out.Weeks[i].Monday] = &out.Weeks[i]
	}
	if err := s.seasonShut(db, out); err != nil {
		return nil, err
	}
	out.place(plan, at)
	for _, day := range d.Rules.Rack(append(slices.Clone(d.Season.Open), d.Sketched...), season.Sitting.Now, d.Season.Closed) {
		if w := at[day.Day.Monday()]; w != nil {
			w.RackSold = max(w.RackSold, day.Used)
		}
	}
	if err := s.seasonClasses(db, d, at); err != nil {
		return nil, err
	}
	var kills []SeasonKill
	err = db.Raw(`SELECT k.day, s.species, s.taken, s.capacity FROM slots s JOIN kill_days k ON k.id = s.kill_day_id
		WHERE k.day BETWEEN ? AND ? ORDER BY k.day, s.species`, out.From, out.To).Scan(&kills).Error
	if err != nil {
		return nil, err
	}
	for _, k := range kills {
		at[k.Day.Monday()].Kills = append(at[k.Day.Monday()].Kills, k)
	}
	return out, nil
}

// place sorts the planner's days into weeks. What lies before the first week is past.
func (out *SeasonSketch) place(plan season.Sketch, at map[unit.Day]*SeasonWeek) {
	for _, d := range plan.Days {
		if w := at[d.Day.Monday()]; w != nil {
			out.Days = append(out.Days, d)
			w.Rack, w.Rest = max(w.Rack, d.Rack), max(w.Rest, d.Rest)
			w.Shelf, w.Frozen = max(w.Shelf, d.Shelf), max(w.Frozen, d.Frozen)
		}
	}
	for _, l := range plan.Loads {
		if w := at[l.Smoke.Monday()]; w != nil {
			out.Loads = append(out.Loads, l)
			w.Loads = append(w.Loads, l)
		}
	}
	for _, b := range plan.Breaks {
		if w := at[b.Day.Monday()]; w != nil {
			out.Breaks = append(out.Breaks, b)
			w.Breaks = append(w.Breaks, b)
		}
	}
	for _, b := range plan.Notes {
		if w := at[b.Day.Monday()]; w != nil {
			out.Notes = append(out.Notes, b)
			w.Notes = append(w.Notes, b)
		}
	}
}

// seasonShut puts the shop's closed days and the plant's closures into the weeks.
func (s *Store) seasonShut(db *gorm.DB, out *SeasonSketch) error {
	closed, err := many[shop.ClosedDay](db, "day", "day BETWEEN ? AND ?", out.From, out.To)
	if err != nil {
		return err
	}
	floor, err := many[shop.PlantClosure](db, "from_day", "to_day >= ? AND from_day <= ?", out.From, out.To)
	if err != nil {
		return err
	}
	for i := range out.Weeks {
		w := &out.Weeks[i]
		for _, c := range closed {
			if c.Day.Monday() == w.Monday {
				w.Closed = append(w.Closed, c)
			}
		}
		for _, f := range floor {
			if f.FromDay <= w.Monday+6 && f.ToDay >= w.Monday {
				w.Floor = append(w.Floor, f)
			}
		}
	}
	return nil
}

func (s *Store) seasonClasses(db *gorm.DB, d diary, at map[unit.Day]*SeasonWeek) error {
	var from, to unit.Day
	for m := range at {
		if from == 0 || m < from {
			from = m
		}
		to = max(to, m+6)
	}
	rows, err := many[shop.Class](db, "starts_at, code", "day BETWEEN ? AND ?", from, to)
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
		LEFT JOIN orders o ON o.id = c.order_id WHERE c.day BETWEEN ? AND ?`, from, to).Scan(&links).Error
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
			if ch, err := d.Rules.ReadyAbout(c.Day, 0, d.Season.Closed); err == nil {
				sc.Ready = ch.Pack
			}
		}
		if c.State == shop.Sketched {
			v, err := d.judge(c)
			if err != nil {
				return err
			}
			if !v.OK {
				sc.Refused = v.Text
			}
			for _, n := range v.Notes {
				sc.Strains = append(sc.Strains, n.Text)
			}
		}
		if w := at[c.Day.Monday()]; w != nil {
			w.Classes = append(w.Classes, sc)
		}
	}
	return nil
}

// PublishFitting opens every sketched class that fits, in the order of their days, each
// checked with the ones before it open. It says which, and why others stay sketched.
func (s *Store) PublishFitting(ctx context.Context, by shop.Actor) (opened []string, stay map[string]string, err error) {
	err = s.tx(ctx, func(t tx) error {
		opened, stay = nil, map[string]string{}
		rows, err := many[shop.Class](t.DB, "starts_at, code", "state = ? AND starts_at > ?", shop.Sketched, t.now)
		if err != nil {
			return err
		}
		for i := range rows {
			c, err := t.lockClass(rows[i].ID)
			if err != nil {
				return err
			}
			err = t.mayPublish(c)
			if e, ok := shop.AsError(err); ok && e.Code == "no_room" {
				stay[c.Code] = e.Text
				continue
			}
			if err != nil {
				return err
			}
			if err := t.open(by, c); err != nil {
				return err
			}
			opened = append(opened, c.Code)
		}
		return nil
	})
	if err != nil {
		return nil, nil, err
	}
	return opened, stay, nil
}

// open turns a sketched class into one on sale.
func (t tx) open(by shop.Actor, c *shop.Class) error {
	res := t.Model(&shop.Class{}).Where("id = ? AND state = ?", c.ID, shop.Sketched).Update("state", shop.Open)
	if err := changed(res, shop.ErrMoved); err != nil {
		return err
	}
	c.State = shop.Open
	if err := t.classEntry(c); err != nil {
		return err
	}
	return t.note(by, "class", int64(c.ID), "published", string(shop.Sketched), string(shop.Open), "")
}

// Kinds lists the kinds of class the shop offers.
func (s *Store) Kinds(ctx context.Context) ([]shop.ClassKind, error) {
	return many[shop.ClassKind](s.read(ctx), "id", "1 = 1")
}
