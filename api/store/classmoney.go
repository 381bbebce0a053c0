package store

import (
	"context"
	"fmt"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/carcass"
	"flitchbook/planner/money"
	"flitchbook/planner/table"
	"flitchbook/planner/unit"
)

// ClassMoney is what a class brings and costs (R42), with what its animals cost behind it.
type ClassMoney struct {
	Class   shop.Class
	Kind    shop.ClassKind
	Account money.ClassAccount
	Slabs   int
	Basis   string     // what the meat rests on: "weighed", "planned", "reckoned"
	Unpaid  unit.Money // of the income, not in yet
	Notes   []string   // what is not counted
	Animal  *AnimalCost
}

// ClassMoneyRow is a class on the list.
type ClassMoneyRow struct {
	Code, Title string
	Starts      unit.Instant
	State       shop.ClassState
	Taken       int
	Seats       int
	Income      unit.Money
	Cost        unit.Money
	Margin      unit.Money
	ASeat       unit.Money
}

// ClassMoney reads one class's account.
func (s *Store) ClassMoney(ctx context.Context, code string) (*ClassMoney, error) {
	db := s.read(ctx)
	c, err := take[shop.Class](db, "The class", "code = ?", code)
	if err != nil {
		return nil, err
	}
	return s.classMoney(db, c)
}

// ClassMonies lists the accounts of the classes of a span, the earliest first. Sketched
// classes and those called off have none.
func (s *Store) ClassMonies(ctx context.Context, from, to unit.Day) ([]ClassMoneyRow, error) {
	db := s.read(ctx)
	classes, err := many[shop.Class](db, "starts_at, code", "day BETWEEN ? AND ? AND state NOT IN ?", from, to, []shop.ClassState{shop.Sketched, shop.ClassOff})
	if err != nil {
		return nil, err
	}
	var rows []ClassMoneyRow
	for i := range classes {
		m, err := s.classMoney(db, &classes[i])
		if err != nil {
			return nil, err
		}
		c, a := m.Class, m.Account
		rows = append(rows, ClassMoneyRow{c.Code, c.Title, c.StartsAt, c.State, c.SeatsTaken, c.Seats, a.Income, a.Cost, a.Margin, a.ASeat})
	}
	return rows, nil
}

func (s *Store) classMoney(db *gorm.DB, c *shop.Class) (*ClassMoney, error) {
	k, err := take[shop.ClassKind](db, "The kind of class", "id = ?", c.KindID)
	if err != nil {
		return nil, err
	}
	m := &ClassMoney{Class: *c, Kind: *k}
	income, err := classIncome(db, c, m)
	if err != nil {
		return nil, err
	}
	if m.Animal, err = s.animalCost(db, c, k); err != nil {
		return nil, err
	}
	slabs, err := s.slabWeights(db, c, k, m)
	if err != nil {
		return nil, err
	}
	costs := s.Rules.Class
	if c.SeatsTaken == 0 && len(income) == 0 {
		costs = money.ClassCosts{}
		m.Notes = append(m.Notes, "Nobody has booked: nothing is counted yet.")
		slabs = nil
	}
	m.Account = money.Account(income, slabs, c.SeatsTaken, costs, s.clinicMeat(c, k, m)...)
	for _, sl := range slabs {
		m.Slabs += max(sl.Count, 1)
	}
	return m, nil
}

// classIncome adds up what the class brings: seats at the price they were booked at, what
// the leaving rule kept, and seat vouchers at what was paid for them (R42).
func classIncome(db *gorm.DB, c *shop.Class, m *ClassMoney) ([]money.Income, error) {
	bookings, err := many[shop.Booking](db, "number", "class_id = ?", c.ID)
	if err != nil {
		return nil, err
	}
	seats, err := many[shop.Seat](db, "id", "class_id = ? AND state IN ?", c.ID, holding)
	if err != nil {
		return nil, err
	}
	var groups []money.Income
	add := func(name string, price unit.Money, cents unit.Money) {
		for i := range groups {
			if groups[i].Name == name+" at "+price.String() {
				groups[i].Cents += cents
				return
			}
		}
		groups = append(groups, money.Income{Name: name + " at " + price.String(), Cents: cents})
	}
	var total, counted, kept unit.Money
	for _, b := range bookings {
		total += b.TotalCents
		kept += b.KeptCents
		m.Unpaid += max(b.Owes(), 0)
		if c.FlatCents > 0 {
			continue
		}
		for _, seat := range seats {
			if seat.BookingID != b.ID {
				continue
			}
			name, price := "Seats", b.SeatCents
			if seat.Kind == shop.WatchSeat {
				name, price = "Watching seats", b.WatchCents
			}
			add(name, price, price)
			counted += price
			if seat.Slabs > 1 {
				add("Second slabs", b.SecondCents, b.SecondCents)
				counted += b.SecondCents
			}
		}
	}
	for i, g := range groups {
		var price unit.Money
		if _, at, ok := cutLast(g.Name, " at "); ok {
			price, _ = unit.ParseMoney(at) // written by add
		}
		if price > 0 {
			groups[i].Why = fmt.Sprintf("%d of them", g.Cents/price)
		}
	}
	if rest := total - counted; rest != 0 {
		name, why := "Agreed otherwise", "what bookings come to beyond their seats' prices"
		if c.FlatCents > 0 {
			name, why = "Private party", "one price for all"
		}
		groups = append(groups, money.Income{Name: name, Cents: rest, Why: why})
	}
	if kept > 0 {
		groups = append(groups, money.Income{Name: "Kept of seats let go", Cents: kept, Why: "by the leaving rule"})
	}
	return voucherIncome(db, c, groups)
}

func cutLast(s, sep string) (before, after string, ok bool) {
	for i := len(s) - len(sep); i >= 0; i-- {
		if s[i:i+len(sep)] == sep {
			return s[:i], s[i+len(sep):], true
		}
	}
	return s, "", false
}

// voucherIncome sets seat vouchers right: they cover a seat at any price but brought what
// was paid for them.
func voucherIncome(db *gorm.DB, c *shop.Class, groups []money.Income) ([]money.Income, error) {
	var used []struct {
		VoucherID shop.VoucherID
		Covered   unit.Money
		Paid      unit.Money
	}
	err := db.Raw(`SELECT v.id AS voucher_id, sum(p.cents) AS covered, v.paid_cents AS paid FROM payments p JOIN vouchers v ON v.id = p.voucher_id
		JOIN bookings b ON b.id = p.booking_id WHERE b.class_id = ? AND v.kind = 'seat' AND v.state = ? GROUP BY v.id, v.paid_cents HAVING sum(p.cents) > 0 ORDER BY v.id`,
		c.ID, shop.VoucherUsed).Scan(&used).Error
	if err != nil {
		return nil, fmt.Errorf("vouchers of the class: %w", err)
	}
	for _, u := range used {
		if d := u.Paid - u.Covered; d != 0 {
			groups = append(groups, money.Income{Name: "Seat voucher", Cents: d, Why: fmt.Sprintf("covers a seat of %s, brought %s", u.Covered, u.Paid)})
		}
	}
	return groups, nil
}

// slabWeights are the class's slabs: as weighed, else as planned on the cut list, else as
// the usual animal would give them.
func (s *Store) slabWeights(db *gorm.DB, c *shop.Class, k *shop.ClassKind, m *ClassMoney) ([]money.SlabWeight, error) {
	if !k.Slabs {
		return nil, nil
	}
	rows, err := many[shop.Slab](db, "number", "class_id = ? AND (green > 0 OR planned > 0)", c.ID)
	if err != nil {
		return nil, err
	}
	m.Basis = "weighed"
	var out []money.SlabWeight
	for _, r := range rows {
		w := r.Green
		if w == 0 {
			w, m.Basis = r.Planned, "planned"
		}
		out = append(out, money.SlabWeight{Weight: w, SkinOn: r.SkinOn})
	}
	if len(out) > 0 {
		return out, nil
	}
	m.Basis = "reckoned"
	n, err := slabsWanted(db, c)
	if err != nil || n == 0 {
		return nil, err
	}
	y, err := s.classYield(db, c, k)
	if err != nil {
		return nil, err
	}
	each := y.Profile.PerBelly(s.Rules.SlabRule(), carcass.Skinless).Slabs.Each
	return []money.SlabWeight{{Weight: each, Count: n}}, nil
}

func slabsWanted(db *gorm.DB, c *shop.Class) (int, error) {
	var n int
	err := db.Raw("SELECT coalesce(sum(slabs), 0) FROM seats WHERE class_id = ? AND state IN ?", c.ID, holding).Scan(&n).Error
	if err != nil || n == 0 {
		return 0, err
	}
	return n + c.DemoSlabs, nil
}

// hindShare is a hindquarter's share of a beef side by weight: the usual figure of "Types
// and Market Classes of Live Stock" (published beef-quarters), for want of a value list.
const hindShare = 48 * unit.Percent

// clinicMeat are a clinic's meat and dinner. What its guests cut is counted whole against
// the class: what goes home and what goes back to the counter is not weighed.
func (s *Store) clinicMeat(c *shop.Class, k *shop.ClassKind, m *ClassMoney) []money.ClassLine {
	var lines []money.ClassLine
	if a := m.Animal; a != nil && !k.Slabs && c.SeatsTaken > 0 {
		units := (c.SeatsTaken + s.Rules.PerHalf - 1) / s.Rules.PerHalf
		const why = "; what goes back to the counter is not weighed and not taken off"
		side := func(cents unit.Money) unit.Money {
			return unit.Money(unit.MulDiv(int64(cents), int64(units), int64(a.Sides), unit.HalfUp))
		}
		switch k.Piece {
		case "half":
			cost, word := a.Cost, "the animal's cost by the side"
			if a.Belly != nil {
				cost, word = a.Cost-a.Belly.Cost, "the animal's cost shared by value, its belly apart"
			}
			lines = append(lines, money.ClassLine{Name: "Half", Cents: -side(cost), Why: fmt.Sprintf("%d of %d sides, %s%s", units, a.Sides, word, why)})
		case "whole":
			lines = append(lines, money.ClassLine{Name: "Whole " + shop.AnimalOf(k.Species), Cents: -2 * side(a.Cost),
				Why: fmt.Sprintf("%s: %s%s", shop.AnimalsIn(k.Species, units), a.What, why)})
		case "hindquarter":
			lines = append(lines, money.ClassLine{Name: "Hindquarter", Cents: -side(a.Cost).Share(hindShare),
				Why: fmt.Sprintf("%d, %s of a side by weight%s", units, hindShare, why)})
		}
	}
	if k.Dinner && c.SeatsTaken > 0 {
		lines = append(lines, s.dinnerCost(c, k, m)...)
	}
	return lines
}

// dinnerCost is the roast of a clinic's dinner at the value list's price of loin; another
// dinner has no price the shop keeps, which is said instead.
func (s *Store) dinnerCost(c *shop.Class, k *shop.ClassKind, m *ClassMoney) []money.ClassLine {
	roast, ok := table.RoastFor(k.Species)
	price := s.Rules.ValueOf("loin")
	if !ok || k.Species != "pork" || price == 0 {
		m.Notes = append(m.Notes, "The dinner's food has no price in the shop's rules and is not counted.")
		return nil
	}
	buy, err := roast.Buy(c.SeatsTaken, s.Rules.DinnerPortion)
	if err != nil {
		m.Notes = append(m.Notes, "The dinner's roast could not be reckoned: "+err.Error())
		return nil
	}
	m.Notes = append(m.Notes, "Sides, bread and board of the dinner have no price in the shop's rules and are not counted.")
	return []money.ClassLine{{Name: "Roast", Cents: -price.PerPound(buy.Raw),
		Why: fmt.Sprintf("%s raw for %d, at the list price of loin, %s", buy.Raw.LB(), c.SeatsTaken, price)}}
}
