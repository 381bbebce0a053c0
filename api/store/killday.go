package store

import (
	"context"
	"slices"
	"strings"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"flitchbook/api/shop"
	"flitchbook/planner/season"
	"flitchbook/planner/unit"
)

// KillProposal is classes that one kill day could feed and the day that suits best.
type KillProposal struct {
	Classes []shop.Class
	Species string
	Animals int // with every seat sold
	Choice  season.Choice
	OrderBy unit.Instant // of the chosen day, 0 when none fits
}

// Codes names the classes: "B3, P2".
func (p KillProposal) Codes() string {
	var codes []string
	for _, c := range p.Classes {
		codes = append(codes, c.Code)
	}
	return strings.Join(codes, ", ")
}

// KillProposals proposes a kill day for every coming class that needs an animal and has
// neither kill day nor order. Classes of one species and one week share an animal
// where a day fits them all.
func (s *Store) KillProposals(ctx context.Context) ([]KillProposal, error) {
	return s.killProposals(s.read(ctx))
}

func (s *Store) killProposals(db *gorm.DB) ([]KillProposal, error) {
	book, err := s.openBook(db, 0)
	if err != nil {
		return nil, err
	}
	today := s.Today()
	calls, err := s.meatCalls(db, "kill_day_id = 0 AND order_id = 0 AND day > ?", today)
	if err != nil || len(calls) == 0 {
		return nil, err
	}
	if err := s.planned(db, &book, 0); err != nil {
		return nil, err
	}
	groups := groupCalls(calls, func(m meatCall) string { return m.Kind.Species + "/" + m.Class.Day.Monday().String() })
	var fit [][]meatCall
	for _, g := range groups {
		c, err := book.Rules.Choose(season.Group{Calls: seasonCalls(g)}, today, book.Book, book.Closed)
		if err != nil {
			return nil, err
		}
		if c.OK() || len(g) == 1 {
			fit = append(fit, g)
			continue
		}
		for _, m := range g { // no day feeds them all: each for itself
			fit = append(fit, []meatCall{m})
		}
	}
	var ask []season.Group
	for _, g := range fit {
		n, err := s.animalsFull(db, g[0].Kind.Species, g)
		if err != nil {
			return nil, err
		}
		ask = append(ask, season.Group{Calls: seasonCalls(g), Animals: n})
	}
	choices, err := book.Rules.Assign(ask, today, book.Book, book.Closed)
	if err != nil {
		return nil, err
	}
	var out []KillProposal
	for i, g := range fit {
		p := KillProposal{Species: g[0].Kind.Species, Animals: ask[i].Animals, Choice: choices[i]}
		for _, m := range g {
			p.Classes = append(p.Classes, m.Class)
		}
		if p.Choice.OK() {
			p.OrderBy = p.Choice.Chosen.OrderByAt(s.Rules.DecideHour, s.Loc)
		}
		out = append(out, p)
	}
	return out, nil
}

// planned adds to the book the animals of classes that have a kill day but no order
// yet, so that a day is not planned twice; the class except is left out.
func (s *Store) planned(db *gorm.DB, book *plantBook, except shop.ClassID) error {
	calls, err := s.meatCalls(db, "kill_day_id <> 0 AND order_id = 0 AND id <> ? AND day >= ?", except, s.Today())
	if err != nil {
		return err
	}
	days, err := many[shop.KillDay](db, "id", "day >= ?", s.Today())
	if err != nil {
		return err
	}
	dayOf := map[shop.KillDayID]unit.Day{}
	for _, d := range days {
		dayOf[d.ID] = d.Day
	}
	for _, g := range groupCalls(calls, func(m meatCall) string { return m.Kind.Species + "/" + dayOf[m.Class.KillDayID].String() }) {
		d := dayOf[g[0].Class.KillDayID]
		if d == 0 {
			continue
		}
		n, err := s.animalsFull(db, g[0].Kind.Species, g)
		if err != nil {
			return err
		}
		book.Book.Taken = append(book.Book.Taken, season.Taken{Day: d, Species: g[0].Kind.Species, Animals: n})
	}
	return nil
}

// groupCalls groups by a key, keeping time order; groups come in the order of their
// first class.
func groupCalls(calls []meatCall, key func(meatCall) string) [][]meatCall {
	var groups [][]meatCall
	at := map[string]int{}
	for _, m := range calls {
		k := key(m)
		i, ok := at[k]
		if !ok {
			i, groups = len(groups), append(groups, nil)
			at[k] = i
		}
		groups[i] = append(groups[i], m)
	}
	return groups
}

func seasonCalls(g []meatCall) []season.Call {
	var calls []season.Call
	for _, m := range g {
		calls = append(calls, season.Call{Code: m.Class.Code, Use: m.Kind.Code, Day: m.Class.Day})
	}
	return calls
}

// PlanKill plans a class's meat from a kill day. It is refused with the reason when the
// day does not fit: too long or too short a hang, a closed floor, no slot left, the
// order-by passed (R19, R20).
func (s *Store) PlanKill(ctx context.Context, by shop.Actor, class shop.ClassID, kill unit.Day) error {
	return s.tx(ctx, func(t tx) error { return t.planKill(by, class, kill) })
}

// PlanKills plans classes, named by code, from one kill day: all or none.
func (s *Store) PlanKills(ctx context.Context, by shop.Actor, codes []string, kill unit.Day) error {
	return s.tx(ctx, func(t tx) error {
		if len(codes) == 0 {
			return shop.Bad("classes", "Say which classes.")
		}
		for _, code := range codes {
			c, err := take[shop.Class](t.DB, "Class "+code, "code = ?", code)
			if err != nil {
				return err
			}
			if err := t.planKill(by, c.ID, kill); err != nil {
				return err
			}
		}
		return nil
	})
}

func (t tx) planKill(by shop.Actor, class shop.ClassID, kill unit.Day) error {
	calls, err := t.s.meatCalls(t.DB, "id = ?", class)
	if err != nil {
		return err
	}
	if len(calls) == 0 {
		return shop.Missing("A class that needs an animal")
	}
	m := calls[0]
	if m.Class.OrderID != 0 {
		return shop.Stop("ordered", "The meat of %s is ordered already; call that order off first.", m.Class.Code)
	}
	book, err := t.s.openBook(t.DB, 0)
	if err != nil {
		return err
	}
	// Classes planned for the same day and species share its animals.
	group, err := t.s.meatCalls(t.DB, `order_id = 0 AND (id = ? OR (kill_day_id IN (SELECT id FROM kill_days WHERE plant_id = ? AND day = ?)
		AND kind_id IN (SELECT id FROM class_kinds WHERE species = ?)))`, class, book.Plant.ID, kill, m.Kind.Species)
	if err != nil {
		return err
	}
	animals, err := t.s.animalsFull(t.DB, m.Kind.Species, group)
	if err != nil {
		return err
	}
	c, err := candidate(book, season.Group{Calls: seasonCalls(calls), Animals: animals}, kill, t.today)
	if err != nil {
		return err
	}
	if !c.Fits {
		return shop.Bad("kill_day", "%s does not fit %s: %s.", kill.Show(), m.Class.Code, strings.Join(c.Reasons, "; "))
	}
	return t.setKill(by, m.Class, book.Plant.ID, c)
}

// candidate looks at one kill day for a group.
func candidate(book plantBook, g season.Group, kill, today unit.Day) (season.Candidate, error) {
	all, err := book.Rules.Candidates(g, today, book.Book, book.Closed)
	if err != nil {
		return season.Candidate{}, err
	}
	i := slices.IndexFunc(all, func(c season.Candidate) bool { return c.Kill == kill })
	if i >= 0 {
		return all[i], nil
	}
	c := season.Candidate{Kill: kill, Reasons: []string{"the plant does not kill that day, or it is far from the class"}}
	return c, nil
}

// setKill writes a class's kill day and with it its moment of decision (R10).
func (t tx) setKill(by shop.Actor, class shop.Class, plant shop.PlantID, c season.Candidate) error {
	kd, err := t.killDay(plant, c.Kill, c.Deliver)
	if err != nil {
		return err
	}
	if kd.ID == class.KillDayID {
		return nil
	}
	decide := c.OrderByAt(t.s.Rules.DecideHour, t.s.Loc)
	res := t.Model(&shop.Class{}).Where("id = ? AND order_id = 0", class.ID).
		Updates(map[string]any{"kill_day_id": kd.ID, "decide_at": decide, "revision": class.Revision + 1})
	if err := changed(res, shop.ErrMoved); err != nil {
		return err
	}
	was := ""
	if class.KillDayID != 0 {
		old, err := take[shop.KillDay](t.DB, "The kill day", "id = ?", class.KillDayID)
		if err != nil {
			return err
		}
		was = old.Day.String()
	}
	if _, err := t.setEntry(shop.Entry{UID: t.s.uid("decide", int64(class.ID)), Kind: "decide", Subject: "class", SubjectID: int64(class.ID),
		StartsAt: decide, EndsAt: decide, Title: class.Code + ": go ahead? order its meat",
		Text: "Kill " + c.Kill.Show() + ", delivered " + c.Deliver.Show() + "."}); err != nil {
		return err
	}
	return t.note(by, "class", int64(class.ID), "kill day planned", was, c.Kill.String(), "")
}

// killDay finds or makes a kill day of a plant.
func (t tx) killDay(plant shop.PlantID, day, deliver unit.Day) (*shop.KillDay, error) {
	row := shop.KillDay{PlantID: plant, Day: day, DeliveryDay: deliver}
	err := t.Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "plant_id"}, {Name: "day"}}, DoNothing: true}).Create(&row).Error
	if err != nil {
		return nil, err
	}
	return take[shop.KillDay](t.DB, "The kill day", "plant_id = ? AND day = ?", plant, day)
}

// PlanSeason accepts the proposal for every class that has none yet and says for how
// many it found a day.
func (s *Store) PlanSeason(ctx context.Context, by shop.Actor) (planned int, err error) {
	err = s.tx(ctx, func(t tx) error {
		planned = 0
		ps, err := s.killProposals(t.DB)
		if err != nil {
			return err
		}
		book, err := s.openBook(t.DB, 0)
		if err != nil {
			return err
		}
		for _, p := range ps {
			if !p.Choice.OK() {
				continue
			}
			for _, c := range p.Classes {
				// Order-by is each kind's own, counted back from the shared kill.
				own := p.Choice.Chosen
				own.OrderBy = own.Kill - unit.Day(book.Kinds[c.KindID].LeadDays)
				if err := t.setKill(by, c, book.Plant.ID, own); err != nil {
					return err
				}
				planned++
			}
		}
		return nil
	})
	return planned, err
}
