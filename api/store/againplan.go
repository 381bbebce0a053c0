package store

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/season"
	"flitchbook/planner/smoke"
	"flitchbook/planner/unit"
)

// AgainPlan is what curing slabs again takes and moves, before anybody says yes.
type AgainPlan struct {
	Tags   []string // dumped, or still on hold
	Taken  bool     // their people chose, and the meat is set aside already
	Free   int      // slabs nobody claims
	Unsold []AgainSeats
	Short  int // no meat for so many
	Chain  season.Chain
	Hooks  int // for class slabs on its smoke day
	Own    int // of them, taken by slabs cured again
	Beside []string
	Slips  []AgainSlip
}

// AgainSeats are seats of a class that come off sale for it.
type AgainSeats struct {
	Code string
	Day  unit.Day
	N    int
	Left int // still on sale then
}

// AgainSlip is a party that would be smoked on another day.
type AgainSlip struct {
	Party    string
	Slabs    int
	Old, New unit.Day // ready about
}

// AgainPlan reckons what it would take if the people of these slabs all chose to have them
// cured again: dumped slabs nobody has chosen for, or slabs still on hold.
func (s *Store) AgainPlan(ctx context.Context, tags []string) (*AgainPlan, error) {
	db := s.read(ctx)
	slabs, err := many[shop.Slab](db, "class_id, number", "seat_id <> 0 AND tag IN ?", tags)
	if err != nil {
		return nil, err
	}
	p := &AgainPlan{}
	sp, err := s.spares(db)
	if err != nil {
		return nil, err
	}
	amends, err := s.amends(db)
	if err != nil {
		return nil, err
	}
	chosen := map[shop.SlabID]AmendView{}
	for _, v := range amends {
		chosen[v.SlabID] = v
	}
	var meat []againMeat
	open := 0
	for _, sl := range slabs {
		v, ok := chosen[sl.ID]
		if ok && v.ClassID != 0 {
			c, err := take[shop.Class](db, "The class", "id = ?", v.ClassID)
			if err != nil {
				return nil, err
			}
			seal, err := s.sealAgainOn(db, c.OrderID)
			if err != nil {
				return nil, err
			}
			meat = append(meat, againMeat{*c, v.Unsold, seal})
		} else {
			open++
		}
		p.Tags = append(p.Tags, sl.Tag)
	}
	p.Taken = len(slabs) > 0 && open == 0
	fresh := dealAgain(sp, open)
	p.Short = open - len(fresh)
	for i, m := range append(meat, fresh...) {
		if !m.Unsold {
			p.Free++
			continue
		}
		j := slices.IndexFunc(p.Unsold, func(a AgainSeats) bool { return a.Code == m.Class.Code })
		if j < 0 {
			j = len(p.Unsold)
			p.Unsold = append(p.Unsold, AgainSeats{Code: m.Class.Code, Day: m.Class.Day, Left: m.Class.Left()})
		}
		p.Unsold[j].N++
		if i >= len(meat) {
			p.Unsold[j].Left--
		}
	}
	meat = append(meat, fresh...)
	if len(meat) == 0 {
		return p, nil
	}
	return p, s.slipsOf(db, p, slabs, meat[0].SealOn)
}

// slipsOf reckons the smoke days with and without the slabs, by the house rule.
func (s *Store) slipsOf(db *gorm.DB, p *AgainPlan, slabs []shop.Slab, seal unit.Day) error {
	closed, err := closedForWork(db)
	if err != nil {
		return err
	}
	p.Chain, err = s.Rules.Curing().ReadyAbout(seal, 0, closed)
	var none *season.NoChain
	if errors.As(err, &none) {
		p.Chain = season.Chain{Seal: seal, Earliest: none.Earliest, Latest: none.Latest}
	} else if err != nil {
		return err
	}
	var more []smoke.Coming
	for i := range slabs[:len(slabs)-p.Short] {
		sl := &slabs[i]
		var number int
		if err := db.Raw("SELECT bookings.number FROM bookings JOIN seats ON seats.booking_id = bookings.id WHERE seats.id = ?", sl.SeatID).Scan(&number).Error; err != nil {
			return err
		}
		jar, _, err := jarOf(db, sl)
		if err != nil {
			return err
		}
		more = append(more, s.comeAgain(sl.Tag+"/again", shop.Ref(number), seal, jar.Allergens != ""))
	}
	before, err := s.outlook(db)
	if err != nil {
		return err
	}
	after, err := s.outlookWith(db, more)
	if err != nil {
		return err
	}
	own := func(tag string) bool {
		return slices.ContainsFunc(more, func(c smoke.Coming) bool { return c.Tag == tag })
	}
	for _, d := range after.Ahead {
		if d.Day != p.Chain.Smoke {
			continue
		}
		p.Hooks = d.Hooks
		for _, h := range d.ByHouse {
			if own(h.Tags[0]) {
				p.Own += len(h.Tags)
			} else if h.Party != "" {
				p.Beside = append(p.Beside, h.Party)
			}
		}
	}
	was := map[string]unit.Day{}
	for _, st := range before.Stays {
		was[fmt.Sprint(st.Party, st.Sealed)] = st.House
	}
	for _, st := range after.Stays {
		old, ok := was[fmt.Sprint(st.Party, st.Sealed)]
		if !ok || st.Party == "" || old == st.House || own(st.Tags[0]) {
			continue
		}
		slip := AgainSlip{Party: st.Party, Slabs: len(st.Tags), Old: old + 1}
		if st.House != 0 {
			slip.New = st.House + 1
		}
		p.Slips = append(p.Slips, slip)
	}
	return nil
}
