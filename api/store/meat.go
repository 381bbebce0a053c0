package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/carcass"
	"flitchbook/planner/demand"
	"flitchbook/planner/season"
	"flitchbook/planner/unit"
)

// MeatSheet is what the coming kills are to bring: for seats sold, expected and full, the
// slabs, bellies, halves and animals, by when to order, and what that leaves to sell. It
// is reckoned from the bookings each time it is read.
type MeatSheet struct {
	From, To unit.Day // of the kills
	Groups   []MeatGroup
	Loose    []KillProposal // classes that have no kill day yet
}

// MeatGroup is the classes one kill feeds with one farm's animals: an order, or what
// would become one.
type MeatGroup struct {
	Kill      unit.Day
	KillDayID shop.KillDayID
	Deliver   unit.Day
	Species   string
	Farm      FarmChoice
	Farms     []FarmChoice // that could be asked
	Order     *shop.Order  // none before it is drafted
	Classes   []MeatClass
	Bets      [3]MeatBet // sold, expected, full
	OrderBy   unit.Instant
	Passed    bool          // the order-by is behind us
	Left      unit.Instant  // seconds to the order-by, 0 when passed
	Slot      SeasonKill    // places of the day
	Drop      string        // where a lighter animal costs slabs
	Cost      unit.Money    // of one animal of the usual weight: meat, kill and haul
	Standing  string        // an order's animals against the need as it stands now
	Problem   string        // why nothing can be reckoned
	Floor     string        // the closure that has come over its kill day
	Sales     carcass.Sales // what it leaves with the seats expected, against the outlets of the week it comes in
	Shared    bool          // an earlier delivery of that week sells through the same outlets
}

// MeatClass is a class on the sheet.
type MeatClass struct {
	shop.Class
	Kind   string
	Call   demand.Class
	Expect demand.Forecast
}

// MeatBet is one count of seats and what it asks.
type MeatBet struct {
	demand.Need
	Worth unit.Money // of what it leaves, by the value list
}

// MeatSheet reads the sheet for kills from a day to a day.
func (s *Store) MeatSheet(ctx context.Context, from, to unit.Day) (*MeatSheet, error) {
	db := s.read(ctx)
	m := &MeatSheet{From: from, To: to}
	days, err := many[shop.KillDay](db, "day, id", "day BETWEEN ? AND ?", from, to)
	if err != nil {
		return nil, err
	}
	dayOf := map[shop.KillDayID]shop.KillDay{}
	ids := make([]shop.KillDayID, len(days))
	for i, d := range days {
		ids[i], dayOf[d.ID] = d.ID, d
	}
	if len(ids) > 0 {
		calls, err := s.meatCalls(db, `(order_id = 0 AND kill_day_id IN ?) OR order_id IN (SELECT id FROM orders WHERE kill_day_id IN ?)`, ids, ids)
		if err != nil {
			return nil, err
		}
		book, err := s.openBook(db, 0)
		if err != nil {
			return nil, err
		}
		for _, g := range groupCalls(calls, func(c meatCall) string {
			return fmt.Sprint(c.Class.OrderID, "/", c.Class.KillDayID, "/", c.Kind.Species)
		}) {
			one, err := s.meatGroup(db, book, dayOf, g)
			if err != nil {
				return nil, err
			}
			m.Groups = append(m.Groups, one)
		}
		slices.SortStableFunc(m.Groups, func(a, b MeatGroup) int { return int(a.Kill - b.Kill) })
		if err := sellLeft(db, m.Groups); err != nil {
			return nil, err
		}
	}
	m.Loose, err = s.killProposals(db)
	return m, err
}

func (s *Store) meatGroup(db *gorm.DB, book plantBook, dayOf map[shop.KillDayID]shop.KillDay, g []meatCall) (MeatGroup, error) {
	kd := dayOf[g[0].Class.KillDayID]
	m := MeatGroup{Species: g[0].Kind.Species, KillDayID: kd.ID, Kill: kd.Day, Deliver: kd.DeliveryDay}
	var farm shop.FarmID
	if id := g[0].Class.OrderID; id != 0 {
		o, err := take[shop.Order](db, "The order", "id = ?", id)
		if err != nil {
			return m, err
		}
		kd = dayOf[o.KillDayID]
		m.Order, farm = o, o.FarmID
		m.KillDayID, m.Kill, m.Deliver, m.OrderBy = kd.ID, kd.Day, o.DeliverOn, o.OrderBy
	}
	for _, c := range g {
		m.Classes = append(m.Classes, MeatClass{c.Class, c.Kind.Name, c.Call, c.Expect})
	}
	if m.Order == nil {
		c, err := candidate(book, season.Group{Calls: seasonCalls(g)}, kd.Day, s.Today())
		if err != nil {
			return m, err
		}
		if c.Deliver != 0 {
			m.Deliver = c.Deliver
		}
		if c.OrderBy != 0 {
			m.OrderBy = c.OrderByAt(s.Rules.DecideHour, s.Loc)
		}
		for _, cl := range book.Book.Closures {
			row := shop.PlantClosure{FromDay: cl.From, ToDay: cl.To, Species: strings.Join(cl.Species, ",")}
			if row.Stops(kd.Day, m.Species) {
				m.Floor = fmt.Sprintf("closed %s to %s: %s", cl.From.Show(), cl.To.Show(), cl.Why)
			}
		}
	}
	if now := s.Now(); m.OrderBy > now {
		m.Left = m.OrderBy - now
	} else {
		m.Passed = true
	}
	m.Slot = SeasonKill{Day: kd.Day, Species: m.Species, Capacity: s.Rules.SlotCapacity(m.Species)}
	var slot shop.Slot
	if err := db.Where("kill_day_id = ? AND species = ?", kd.ID, m.Species).Limit(1).Find(&slot).Error; err != nil {
		return m, err
	}
	if slot.ID != 0 {
		m.Slot.Taken, m.Slot.Capacity = slot.Taken, slot.Capacity
	}
	var err error
	if m.Farms, err = farmsFor(db, m.Species); err != nil {
		return m, err
	}
	y, err := yieldOf(db, farm, m.Species)
	if err != nil {
		return m, err
	}
	m.Farm = FarmChoice{y.Farm.ID, y.Farm.Code, y.Farm.Name, y.Row.Breed, y.Row}
	m.Cost = y.Row.PricePerPound.PerPound(y.Row.HCW) + y.Row.KillFee + y.Farm.HaulCents
	return m, s.bets(y, g, &m)
}

// bets reckons the three counts of seats.
func (s *Store) bets(y farmYield, g []meatCall, m *MeatGroup) error {
	_, plan, err := s.reckon(y, g)
	var none *demand.NoSlabs
	if errors.As(err, &none) {
		m.Problem = none.Error()
		return nil
	}
	if err != nil {
		return err
	}
	for i, n := range []demand.Need{plan.Sold, plan.Expected, plan.Full} {
		m.Bets[i] = MeatBet{n, s.Rules.Worth(n.Leaves.Cuts)}
	}
	if plan.Full.Slabs > 0 {
		if d, ok := y.Profile.StepDown(s.Rules.SlabRule(), 0, y.Row.HCW); ok {
			m.Drop = d.Why
		}
	}
	if m.Order != nil {
		n := m.Order.Animals
		switch {
		case m.Order.State == shop.Delivered || m.Order.State == shop.Settled:
			n = m.Order.Delivered
		case m.Order.AnsweredAt != 0:
			n = m.Order.Promised
		}
		m.Standing = plan.Sold.Against(n).Text
	}
	return nil
}
