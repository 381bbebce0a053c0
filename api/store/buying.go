package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"slices"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/buying"
	"flitchbook/planner/demand"
	"flitchbook/planner/integer"
	"flitchbook/planner/order"
	"flitchbook/planner/season"
	"flitchbook/planner/unit"
)

// BuyingPlan is what to order for every class to come whose meat is not ordered yet:
// the cheapest way after selling what is left, species by species.
type BuyingPlan struct {
	Level   demand.Level
	Species []SpeciesPlan
	Mark    string // names what the plan rests on; an order of it names it again
}

// SpeciesPlan is the plan of one species.
type SpeciesPlan struct {
	Species string
	buying.Plan
	Orders  []BuyingLine
	Problem string // why there is no plan
}

// BuyingLine is one order of the plan with its dates.
type BuyingLine struct {
	buying.Line
	Deliver unit.Day
	OrderBy unit.Instant
}

// What one plan may spend: a season of the shop's size takes a fraction of a second.
const buyingWork = 200_000

// BuyingPlan plans with the seats of one level: sold, expected or full.
func (s *Store) BuyingPlan(ctx context.Context, level demand.Level) (*BuyingPlan, error) {
	ins, err := s.buyingInputs(s.read(ctx), level)
	if err != nil {
		return nil, err
	}
	p := &BuyingPlan{Level: level, Mark: markOf(ins)}
	for _, in := range ins {
		sp := SpeciesPlan{Species: in.Species}
		sp.Plan, err = buying.Solve(in.Input, order.Options{Limit: integer.Limit{Work: buyingWork, Stop: func() bool { return ctx.Err() != nil }}, Plans: 3})
		var short *order.Short
		switch {
		case errors.As(err, &short), errors.Is(err, order.ErrNoneYet):
			sp.Problem = err.Error()
		case err != nil:
			return nil, err
		}
		for _, l := range sp.Lines {
			c := in.when[l.Kill]
			sp.Orders = append(sp.Orders, BuyingLine{l, c.Deliver, c.OrderByAt(s.Rules.DecideHour, s.Loc)})
		}
		p.Species = append(p.Species, sp)
	}
	return p, nil
}

// buyingInput is what the plan of one species rests on.
type buyingInput struct {
	buying.Input
	when map[unit.Day]season.Candidate // delivery and order-by of the kill days
}

func (s *Store) buyingInputs(db *gorm.DB, level demand.Level) ([]buyingInput, error) {
	calls, err := s.meatCalls(db, "order_id = 0 AND day > ?", s.Today())
	if err != nil || len(calls) == 0 {
		return nil, err
	}
	book, err := s.openBook(db, 0)
	if err != nil {
		return nil, err
	}
	outlets, err := many[shop.Outlet](db, "id", "1 = 1")
	if err != nil {
		return nil, err
	}
	var out []buyingInput
	for _, g := range groupCalls(calls, func(m meatCall) string { return m.Kind.Species }) {
		in := buyingInput{buying.Input{Species: g[0].Kind.Species, Level: level, Rule: s.Rules.SlabRule()}, map[unit.Day]season.Candidate{}}
		in.Outlets = shop.OutletsFor(in.Species, outlets)
		farms, err := farmsFor(db, in.Species)
		if err != nil {
			return nil, err
		}
		for _, f := range farms {
			y, err := yieldOf(db, f.ID, in.Species)
			if err != nil {
				return nil, err
			}
			in.Farms = append(in.Farms, buying.Farm{Code: f.Code, Name: f.Name, Profile: y.Profile, Price: y.Row.PricePerPound, KillFee: y.Row.KillFee, Haul: y.Farm.HaulCents})
		}
		for _, u := range book.Rules.Uses {
			if u.Species == in.Species {
				in.Target = max(in.Target, u.Target)
			}
		}
		free, err := s.freeSlots(db, book, in.Species)
		if err != nil {
			return nil, err
		}
		for _, m := range g {
			c := buying.Class{Class: m.Call}
			group := season.Group{Calls: seasonCalls([]meatCall{m})}
			all, err := book.Rules.Candidates(group, s.Today(), book.Book, book.Closed)
			if err != nil {
				return nil, err
			}
			for _, k := range all {
				if !k.Fits || k.OrderByAt(s.Rules.DecideHour, s.Loc) <= s.Now() || free(k.Kill) < 1 {
					continue
				}
				c.Kills = append(c.Kills, k.Kill)
				if _, ok := in.when[k.Kill]; !ok {
					in.Days = append(in.Days, buying.Day{Kill: k.Kill, Free: free(k.Kill)})
					in.when[k.Kill] = k
				}
			}
			if len(c.Kills) == 0 {
				choice, err := book.Rules.Choose(group, s.Today(), book.Book, book.Closed)
				if err != nil {
					return nil, err
				}
				c.Why = choice.Advice
			}
			in.Classes = append(in.Classes, c)
		}
		slices.SortFunc(in.Days, func(a, b buying.Day) int { return int(a.Kill - b.Kill) })
		out = append(out, in)
	}
	return out, nil
}

// freeSlots says how many more animals a kill day takes of us.
func (s *Store) freeSlots(db *gorm.DB, book plantBook, species string) (func(unit.Day) int, error) {
	var rows []struct {
		Day             unit.Day
		Capacity, Taken int
	}
	err := db.Raw("SELECT k.day, s.capacity, s.taken FROM slots s JOIN kill_days k ON k.id = s.kill_day_id WHERE k.plant_id = ? AND s.species = ?", book.Plant.ID, species).Scan(&rows).Error
	left := map[unit.Day]int{}
	for _, r := range rows {
		left[r.Day] = max(0, r.Capacity-r.Taken)
	}
	return func(d unit.Day) int {
		if n, ok := left[d]; ok {
			return n
		}
		return s.Rules.SlotCapacity(species)
	}, err
}

// markOf names what plans rest on. Of the seats only the level's count.
func markOf(ins []buyingInput) string {
	h := sha256.New()
	for _, in := range ins {
		classes := slices.Clone(in.Classes)
		for i := range classes {
			n := classes[i].Seats.At(in.Level)
			classes[i].Seats = demand.Seats{Sold: n, Expected: n, Full: n}
		}
		one := in.Input
		one.Classes = classes
		b, err := json.Marshal(one)
		if err != nil {
			panic(err) // plain values
		}
		h.Write(b)
	}
	return hex.EncodeToString(h.Sum(nil)[:12])
}

// PlaceBuying drafts every order of a plan in one go, and asks the farms too if told to.
// It refuses with ErrStale when the plan no longer rests on what it was made from: look
// at it again.
func (s *Store) PlaceBuying(ctx context.Context, by shop.Actor, level demand.Level, mark string, ask bool, once Once) ([]shop.Order, error) {
	plan, err := s.BuyingPlan(ctx, level) // outside the transaction: the counter need not wait for it
	if err != nil {
		return nil, err
	}
	stale := shop.ErrStale.Saying("Something has changed since this plan was made: seats, farms, places or orders. Look at it again.")
	var orders []shop.Order
	err = s.tx(ctx, func(t tx) error {
		orders = nil
		if _, seen, err := t.repeated(once, "place buying", by); err != nil || seen {
			return err
		}
		ins, err := s.buyingInputs(t.DB, level)
		if err != nil {
			return err
		}
		if plan.Mark != mark || markOf(ins) != mark {
			return stale
		}
		for _, sp := range plan.Species {
			if sp.Problem != "" {
				continue
			}
			if err := t.clearKills(by, sp); err != nil {
				return err
			}
			for _, l := range sp.Orders {
				o, err := t.draftOrder(by, NewOrder{Kill: l.Kill, Farm: l.Farm, Species: sp.Species, Animals: l.Animals, Basis: level.String(), Classes: l.Classes})
				if err != nil {
					return err
				}
				if ask {
					if err := t.sendOrder(by, o); err != nil {
						return err
					}
				}
				orders = append(orders, *o)
			}
		}
		if len(orders) == 0 {
			return shop.Stop("nothing_planned", "There is nothing to order.")
		}
		return t.remember(once, "place buying", by, "")
	})
	return orders, err
}

// clearKills takes back the kill days planned for the classes of a plan, so that none
// stands in another's way while they are planned anew; what each class had is kept in
// its history.
func (t tx) clearKills(by shop.Actor, sp SpeciesPlan) error {
	for _, l := range sp.Orders {
		var had []struct {
			ID  shop.ClassID
			Day unit.Day
		}
		err := t.Raw(`SELECT classes.id, kill_days.day FROM classes JOIN kill_days ON kill_days.id = classes.kill_day_id
			WHERE classes.order_id = 0 AND classes.code IN ? AND kill_days.day <> ? ORDER BY classes.id`, l.Classes, l.Kill).Scan(&had).Error
		if err != nil {
			return err
		}
		for _, c := range had {
			if err := t.Exec("UPDATE classes SET kill_day_id = 0 WHERE id = ?", c.ID).Error; err != nil {
				return err
			}
			if err := t.note(by, "class", int64(c.ID), "kill planned anew", c.Day.String(), l.Kill.String(), "by the buying plan"); err != nil {
				return err
			}
		}
	}
	return nil
}
