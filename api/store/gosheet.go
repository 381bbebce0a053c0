package store

import (
	"context"
	"fmt"
	"slices"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/carcass"
	"flitchbook/planner/demand"
	"flitchbook/planner/money"
	"flitchbook/planner/unit"
)

// GoSheet is what the owner looks at before saying go or call off (R10, W6).
type GoSheet struct {
	demand.GoSheet
	Class   shop.Class
	Kind    shop.ClassKind
	OrderBy unit.Instant // moment of decision
	Passed  bool
	Order   *shop.Order // none before it is drafted
	Farm    string
	Fed     []string // codes of the classes the same animals feed
	Before  int      // days to the class
	Beside  string   // how it stands against the pace of its kind
	Pace    []PaceRow
	Bets    []GoBet
	Even    int // fewest seats at today's price that cover what the class costs; 0: not with every seat sold
	Parties int
	Paid    unit.Money // in for the class: what comes back if it is called off
	Cash    unit.Money // of it in money; vouchers and credits come back as they were (R5)
	Credit  unit.Money // what the money becomes if every party takes a credit (R5)
	Open    bool       // the order can still be changed
	MayGo   bool
	MayOff  bool
	Problem string // why the animals cannot be reckoned
}

// PaceRow is one mark of the booking pace: earlier classes of the kind, and this one.
type PaceRow struct {
	demand.PacePoint
	This  int
	Known bool // the mark has come
}

// GoBet is the class's account if it ends with so many seats.
type GoBet struct {
	Name    string
	Seats   int
	Account money.ClassAccount
}

// paceMarks are the days before a class the pace is read at.
var paceMarks = [...]int{42, 35, 28, 21, 14, 7, 3, 0}

// GoSheet reads the sheet of one class.
func (s *Store) GoSheet(ctx context.Context, code string) (*GoSheet, error) {
	db := s.read(ctx)
	c, err := take[shop.Class](db, "The class", "code = ?", code)
	if err != nil {
		return nil, err
	}
	k, err := take[shop.ClassKind](db, "The kind of class", "id = ?", c.KindID)
	if err != nil {
		return nil, err
	}
	g := &GoSheet{Class: *c, Kind: *k, OrderBy: c.DecideAt, Passed: c.DecideAt != 0 && c.DecideAt <= s.Now(), Before: max(int(c.Day-s.Today()), 0),
		MayGo: shop.ClassMoves.May(c.State, shop.GoingAhead), MayOff: shop.ClassMoves.May(c.State, shop.ClassOff)}
	if err := s.goMeat(db, g); err != nil {
		return nil, err
	}
	if err := s.goPace(db, g); err != nil {
		return nil, err
	}
	err = db.Raw(`SELECT count(*) AS parties, coalesce(sum(paid_cents), 0) AS paid,
			coalesce(sum((SELECT sum(p.cents) FROM payments p WHERE p.booking_id = b.id AND p.voucher_id = 0 AND p.credit_id = 0)), 0) AS cash
		FROM bookings b WHERE class_id = ? AND state IN ?`, c.ID, holding).Row().Scan(&g.Parties, &g.Paid, &g.Cash)
	if err != nil {
		return nil, fmt.Errorf("paid for the class: %w", err)
	}
	g.Credit = g.Cash.Share(s.Rules.CalledOffShare)
	g.Open = g.Order == nil || g.Order.State == shop.Needed
	return g, s.goBets(db, g)
}

// goMeat fills in what the animals are and where else their meat goes.
func (s *Store) goMeat(db *gorm.DB, g *GoSheet) error {
	g.Sold, g.Seats, g.Min, g.Missing = g.Class.SeatsTaken, g.Class.Seats, g.Class.MinSeats, max(g.Class.MinSeats-g.Class.SeatsTaken, 0)
	g.Code = g.Class.Code
	if _, fed := g.Kind.FedBy(); !fed {
		expect, err := s.expect(db, g.Class)
		g.Expect = expect
		return err
	}
	var calls []meatCall
	var err error
	ordered := 0
	var farm shop.FarmID
	switch {
	case g.Class.OrderID != 0:
		if g.Order, err = take[shop.Order](db, "The order", "id = ?", g.Class.OrderID); err != nil {
			return err
		}
		farm, ordered = g.Order.FarmID, g.Order.Animals
		if g.Order.AnsweredAt != 0 {
			ordered = g.Order.Promised
		}
		calls, err = s.meatCalls(db, "order_id = ?", g.Class.OrderID)
	case g.Class.KillDayID != 0:
		calls, err = s.meatCalls(db, "order_id = 0 AND kill_day_id = ? AND kind_id IN (SELECT id FROM class_kinds WHERE species = ?)", g.Class.KillDayID, g.Kind.Species)
	default:
		calls, err = s.meatCalls(db, "id = ?", g.Class.ID)
	}
	if err != nil {
		return err
	}
	y, err := yieldOf(db, farm, g.Kind.Species)
	if err != nil {
		return err
	}
	g.Farm = y.Farm.Name
	in := demand.Input{Profile: y.Profile, Rule: s.Rules.SlabRule()}
	for _, m := range calls {
		in.Classes = append(in.Classes, m.Call)
		g.Fed = append(g.Fed, m.Class.Code)
		if m.Class.ID == g.Class.ID {
			g.Expect = m.Expect
		}
	}
	sheet, err := demand.Go(in, g.Code, g.Min, ordered, g.Expect)
	if err != nil {
		g.Problem = err.Error()
		return nil
	}
	g.GoSheet = sheet
	return nil
}

// goPace sets the class beside the earlier classes of its kind.
func (s *Store) goPace(db *gorm.DB, g *GoSheet) error {
	runs, this, err := s.runsOf(db, g.Class)
	if err != nil {
		return err
	}
	g.Beside = demand.Beside(runs, g.Before, g.Class.SeatsTaken)
	points := demand.PaceOf(runs, paceMarks[:])
	for _, p := range points {
		g.Pace = append(g.Pace, PaceRow{p, this.OnHand(p.Before), p.Before >= g.Before})
	}
	return nil
}

// runsOf reads how the earlier classes of a kind filled, and the class itself: the seats
// that still stand, by the day they were booked.
func (s *Store) runsOf(db *gorm.DB, c shop.Class) (past []demand.Run, this demand.Run, err error) {
	classes, err := many[shop.Class](db.Limit(demand.PaceClasses), "starts_at DESC, id DESC", "kind_id = ? AND starts_at < ? AND private = ? AND state IN ? AND id <> ?", c.KindID, min(s.Now(), c.StartsAt), false,
		[]shop.ClassState{shop.GoingAhead, shop.Taught, shop.ClosedOut, shop.Open}, c.ID)
	if err != nil {
		return nil, this, err
	}
	slices.Reverse(classes) // the oldest first
	for _, p := range append(classes, c) {
		var booked []struct {
			CreatedAt unit.Instant
			N         int
		}
		err := db.Raw(`SELECT b.created_at, count(*) AS n FROM seats s JOIN bookings b ON b.id = s.booking_id
			WHERE s.class_id = ? AND s.kind <> ? AND s.state IN ? GROUP BY b.created_at ORDER BY b.created_at`, p.ID, shop.WatchSeat, holding).Scan(&booked).Error
		if err != nil {
			return nil, this, fmt.Errorf("pace of %s: %w", p.Code, err)
		}
		run := demand.Run{Code: p.Code, Seats: p.Seats}
		for _, b := range booked {
			run.Sales = append(run.Sales, demand.Sale{Before: max(int(p.Day-b.CreatedAt.Day(s.Loc)), 0), Seats: b.N})
		}
		if p.ID == c.ID {
			this = run
			continue
		}
		past = append(past, run)
	}
	return past, this, nil
}

// goBets reckons the class's account as it stands, as expected and full: every seat more
// at today's price, every slab more as the usual animal gives it.
func (s *Store) goBets(db *gorm.DB, g *GoSheet) error {
	m, err := s.classMoney(db, &g.Class)
	if err != nil {
		return err
	}
	var price unit.Money
	rows, err := many[shop.Price](db.Limit(1), "from_at DESC", "kind_id = ? AND seat IN ? AND from_at <= ?", g.Class.KindID, []shop.SeatKind{shop.SlabSeat, shop.GuestSeat}, s.Now())
	if err != nil {
		return err
	}
	if len(rows) > 0 {
		price = rows[0].Cents
	}
	var income []money.Income
	for _, l := range m.Account.Lines {
		if l.Income {
			income = append(income, money.Income{Name: l.Name, Cents: l.Cents, Why: l.Why})
		}
	}
	slabs, err := s.slabWeights(db, &g.Class, &g.Kind, m)
	if err != nil {
		return err
	}
	each := unit.Weight(0)
	if g.Kind.Slabs {
		y, err := s.classYield(db, &g.Class, &g.Kind)
		if err != nil {
			return err
		}
		each = y.Profile.PerBelly(s.Rules.SlabRule(), carcass.Skinless).Slabs.Each
	}
	g.Even = s.breaksEven(g, m, price, each)
	for _, bet := range []struct {
		name  string
		seats int
	}{{"as sold", g.Sold}, {"as expected", max(g.Expect.Seats, g.Sold)}, {"full", g.Seats}} {
		more := bet.seats - g.Sold
		in, sl := append([]money.Income{}, income...), append([]money.SlabWeight{}, slabs...)
		if g.Class.FlatCents == 0 && more > 0 {
			in = append(in, money.Income{Name: "Seats to come", Cents: price * unit.Money(more), Why: fmt.Sprintf("%d at %s", more, price)})
		}
		if each > 0 {
			n := more
			if g.Sold == 0 && more > 0 {
				n += g.Class.DemoSlabs
			}
			if n > 0 {
				sl = append(sl, money.SlabWeight{Weight: each, Count: n})
			}
		}
		class, quiet := g.Class, &ClassMoney{Animal: m.Animal}
		class.SeatsTaken = bet.seats
		costs := s.Rules.Class
		if bet.seats == 0 {
			costs = money.ClassCosts{}
		}
		g.Bets = append(g.Bets, GoBet{bet.name, bet.seats, money.Account(in, sl, bet.seats, costs, s.clinicMeat(&class, &g.Kind, quiet)...)})
	}
	return nil
}

// breaksEven is the fewest seats, all at one price, whose income covers the cost; 0 when
// a full class does not.
func (s *Store) breaksEven(g *GoSheet, m *ClassMoney, price unit.Money, each unit.Weight) int {
	for n := 1; n <= g.Seats; n++ {
		income := []money.Income{{Name: "Seats", Cents: price * unit.Money(n)}}
		if g.Class.FlatCents > 0 {
			income[0].Cents = g.Class.FlatCents
		}
		var slabs []money.SlabWeight
		if each > 0 {
			slabs = append(slabs, money.SlabWeight{Weight: each, Count: n + g.Class.DemoSlabs})
		}
		class, quiet := g.Class, &ClassMoney{Animal: m.Animal}
		class.SeatsTaken = n
		if money.Account(income, slabs, n, s.Rules.Class, s.clinicMeat(&class, &g.Kind, quiet)...).Margin >= 0 {
			return n
		}
	}
	return 0
}
