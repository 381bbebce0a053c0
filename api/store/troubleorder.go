package store

import (
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/demand"
	"flitchbook/planner/season"
	"flitchbook/planner/unit"
)

// orderTrouble is what is wrong with one order, or nil.
func (s *Store) orderTrouble(db *gorm.DB, o *shop.Order) (*Trouble, error) {
	kd, err := take[shop.KillDay](db, "The kill day", "id = ?", o.KillDayID)
	if err != nil {
		return nil, err
	}
	calls, err := s.meatCalls(db, "order_id = ? AND starts_at > ?", o.ID, s.Now())
	if err != nil || len(calls) == 0 {
		return nil, err
	}
	y, err := yieldOf(db, o.FarmID, o.Species)
	if err != nil {
		return nil, err
	}
	t := &Trouble{Key: fmt.Sprintf("order-%d", o.Number), Order: o.Number}
	count, err := s.orderCount(db, o, y)
	if err != nil {
		return nil, err
	}
	t.Short = count.Short
	// What happened is told, what makes it a trouble is what it does: slabs short, seats on
	// sale that nothing is coming for, a kill that cannot stand, a clinic without its piece.
	if err := s.orderLines(db, t, o, kd, y, count); err != nil {
		return nil, err
	}
	told := len(t.Lines)
	if o.State == shop.Asked && o.Late {
		told = 0
	}
	if err := s.orderFloor(db, t, o, kd, calls); err != nil {
		return nil, err
	}
	unfed := 0
	for _, c := range count.Classes {
		unfed += c.Unfed
	}
	if o.State != shop.Asked && unfed > 0 && (o.Short || o.State == shop.Delivered) {
		t.Lines = append(t.Lines, fmt.Sprintf("%s on sale that no slab is coming for.", countWord(unfed, "seat", "seats")))
	}
	for _, m := range calls {
		c, err := s.touch(db, m.Class, m.Kind)
		if err != nil {
			return nil, err
		}
		for _, share := range count.Classes {
			if share.ClassID == m.Class.ID {
				c.Wanted, c.Gets, c.Short, c.Unfed = share.Wanted, share.Gets, share.Short, share.Unfed
			}
		}
		t.Touched = append(t.Touched, c)
	}
	s.halves(t, o, calls)
	if t.Short == 0 && len(t.Lines) == told {
		return nil, nil
	}
	if t.Short > 0 {
		t.Title = fmt.Sprintf("%s: %d slabs of %d wanted, short %d", o.Ref(), count.Wanted-count.Short, count.Wanted, count.Short)
	} else {
		t.Title = o.Ref() + ": " + strings.TrimSuffix(t.Lines[len(t.Lines)-1], ".")
	}
	if err := s.orderWays(db, t, o, y, count); err != nil {
		return nil, err
	}
	t.Reason = "less meat came from the farm than we had been promised"
	return t, s.orderLetters(db, t, o, y)
}

// orderCount counts the slabs of an order: by the scale once delivered, before by what
// the farm has promised and the plant has passed, at the farm's usual weight.
func (s *Store) orderCount(db *gorm.DB, o *shop.Order, y farmYield) (*Recount, error) {
	if o.State == shop.Delivered {
		return s.recount(db, o)
	}
	calls, err := s.meatCalls(db, "order_id = ?", o.ID)
	if err != nil {
		return nil, err
	}
	ahead, err := s.bellyAhead(db, o, y, calls)
	if err != nil {
		return nil, err
	}
	return s.recountOf(db, o, y, calls, ahead)
}

// bellyAhead is the bellies to be expected of an order that is not delivered. The last
// sides go to the clinics, as they will when they come.
func (s *Store) bellyAhead(db *gorm.DB, o *shop.Order, y farmYield, calls []meatCall) ([]BellyLine, error) {
	hots := make([]unit.Weight, o.Animals)
	if o.AnsweredAt != 0 {
		hots = make([]unit.Weight, o.Promised)
	}
	if o.State == shop.Killed {
		animals, err := many[shop.Animal](db, "number", "order_id = ? AND condemned = ?", o.ID, false)
		if err != nil {
			return nil, err
		}
		hots = hots[:0]
		for _, a := range animals {
			hots = append(hots, a.Hot)
		}
	}
	var out []BellyLine
	if y.Profile.Belly == 0 {
		return nil, nil
	}
	for i, hot := range hots {
		p := y.Profile
		if hot > 0 {
			p.HCW = hot
		}
		for _, which := range []string{"L", "R"} {
			b := BellyLine{Number: i + 1, Which: which, OrderID: o.ID, Species: o.Species, Cold: p.Forecast().Side, Tag: fmt.Sprintf("%s %d %s", shop.AnimalOf(o.Species), i+1, which)}
			b.Weight = p.Break(b.Cold).Belly
			b.Cut = p.CutSide(s.Rules.SlabRule(), b.side())
			out = append(out, b)
		}
	}
	last := len(out)
	for _, m := range calls {
		if m.Call.Unit == demand.Belly {
			continue
		}
		for range m.pieces() {
			if last--; last >= 0 {
				out[last].ClassDay, out[last].Clinic, out[last].SideFor = m.Class.Day, m.Class.Code, "class"
			}
		}
	}
	return out, nil
}

// pieces is how many halves, quarters or animals a clinic takes apart.
func (m meatCall) pieces() int {
	return (max(m.Call.Seats.Sold, 1) + m.Call.PerUnit - 1) / m.Call.PerUnit
}

// orderLines says what happened to an order.
func (s *Store) orderLines(db *gorm.DB, t *Trouble, o *shop.Order, kd *shop.KillDay, y farmYield, r *Recount) error {
	say := func(format string, args ...any) { t.Lines = append(t.Lines, fmt.Sprintf(format, args...)) }
	switch {
	case o.State == shop.Asked && o.Late:
		say("%s has not answered, and the order-by was %s.", y.Farm.Name, o.OrderBy.Show(s.Loc))
	case o.AnsweredAt != 0 && o.Promised < o.Animals && o.State != shop.Delivered:
		say("%s says fewer: %d of %s, kill %s.", y.Farm.Name, o.Promised, shop.AnimalsIn(o.Species, o.Animals), kd.Day.Show())
	}
	if o.Condemned > 0 {
		animals, err := many[shop.Animal](db, "number", "order_id = ?", o.ID)
		if err != nil {
			return err
		}
		delivered := ""
		if o.State == shop.Delivered {
			delivered = fmt.Sprintf(", delivered %d", o.Delivered)
		}
		m := o.Money(animals, y.Row.HCW)
		say("Condemned at inspection: %d. Promised %d%s. The farm bears the carcass, the shop pays its kill fee.", o.Condemned, o.Promised, delivered)
		say("To pay: farm %s, plant %s, haul %s. It leaves %s to sell besides bellies.", m.Farm, m.Plant, m.Haul, r.Leaves.Total.LB())
	} else if o.State == shop.Delivered && r.Short > 0 {
		say("The delivery gives %s, and %d are wanted.", countWord(r.Slabs, "slab", "slabs"), r.Wanted)
	}
	return nil
}

// orderFloor says when an order's kill day cannot stand, or does not suit a class it
// feeds any more.
func (s *Store) orderFloor(db *gorm.DB, t *Trouble, o *shop.Order, kd *shop.KillDay, calls []meatCall) error {
	if o.State == shop.Delivered || o.State == shop.Killed {
		return nil
	}
	closures, err := many[shop.PlantClosure](db, "from_day, id", "plant_id = ?", kd.PlantID)
	if err != nil {
		return err
	}
	for _, c := range closures {
		if c.Stops(kd.Day, o.Species) {
			t.Lines = append(t.Lines, fmt.Sprintf("The kill floor is closed on %s, its kill day: %s. %s stands: ring the farm and the plant.", kd.Day.Show(), c.Reason, o.Ref()))
		}
	}
	book, err := s.openBook(db, kd.PlantID)
	if err != nil {
		return err
	}
	book.Book.Taken, book.Book.Closures = nil, nil
	for _, m := range calls {
		c, err := candidate(book, season.Group{Calls: seasonCalls([]meatCall{m})}, kd.Day, 0)
		if err != nil {
			return err
		}
		if !c.Fits {
			t.Lines = append(t.Lines, fmt.Sprintf("The kill of %s does not suit %s on %s: %s.", kd.Day.Show(), m.Class.Code, m.Class.Day.Show(), strings.Join(c.Reasons, "; ")))
		}
	}
	return nil
}

// halves tells of clinics of the order that go without their piece.
func (s *Store) halves(t *Trouble, o *shop.Order, calls []meatCall) {
	animals := o.Animals
	switch {
	case o.State == shop.Delivered:
		animals = o.Delivered
	case o.AnsweredAt != 0:
		animals = o.Promised - o.Condemned
	}
	sides := 2 * animals
	for _, m := range calls {
		if m.Call.Unit == demand.Belly {
			continue
		}
		need := m.pieces()
		if m.Call.Unit == demand.Whole {
			need *= 2
		}
		if sides -= need; sides < 0 {
			t.Lines = append(t.Lines, fmt.Sprintf("There is no %s for %s on %s.", m.Kind.Piece, m.Class.Code, m.Class.Day.Show()))
			sides = 0
		}
	}
}

// orderWays lists the ways out of an order's trouble (R18), each with its price.
func (s *Store) orderWays(db *gorm.DB, t *Trouble, o *shop.Order, y farmYield, r *Recount) error {
	if t.Short > 0 {
		for _, c := range t.Touched {
			if c.Slabs && c.Demos > 0 && c.Wanted > 0 {
				t.Ways = append(t.Ways, TroubleWay{ID: fmt.Sprintf("demo:%s:%d", c.Code, c.Demos), Remedy: string(demand.DropDemo), What: fmt.Sprintf("%s, %s", c.Code, countWord(c.Demos, "demo slab", "demo slabs")),
					Gain: c.Demos, Rank: 10, Harm: demand.Harm{Own: c.Demos}, Why: "the shop goes without; the class sheet says no demo slab", Not: []string{"off:" + c.Code}})
			}
		}
		if err := s.meatWays(db, t, y, r); err != nil {
			return err
		}
		s.smallerWay(t, r)
		s.askWay(t)
	}
	for _, c := range t.Touched {
		if c.Unfed > 0 {
			price, err := s.seatPrice(db, c.ID)
			if err != nil {
				return err
			}
			t.Ways = append(t.Ways, TroubleWay{ID: fmt.Sprintf("unsold:%s:%d", c.Code, c.Unfed), Remedy: string(demand.TakeUnsold), What: c.Code, Rank: 30,
				Harm: demand.Harm{Seats: c.Unfed, Money: price * unit.Money(c.Unfed)},
				Why:  fmt.Sprintf("%s on sale that no slab is coming for: nobody buys what is not there", countWord(c.Unfed, "seat", "seats"))})
		}
		if c.Short > 0 {
			t.Ways = append(t.Ways, c.off(c.Wanted))
		}
	}
	if o.State == shop.Promised || o.State == shop.SlotHeld || o.State == shop.Asked {
		if err := s.otherFarms(db, t, o); err != nil {
			return err
		}
	}
	for i := range t.Ways {
		if t.Ways[i].Costs == "" {
			t.Ways[i].Costs = harmWords(t.Ways[i].Harm)
		}
	}
	return nil
}

// meatWays are skin on, free slabs of the same delivery and bellies out of the freezer.
func (s *Store) meatWays(db *gorm.DB, t *Trouble, y farmYield, r *Recount) error {
	calls, err := s.meatCalls(db, "id IN ?", touchedIDs(t))
	if err != nil {
		return err
	}
	if len(r.Ways) == 0 {
		if err := s.waysOut(db, y, calls, r); err != nil {
			return err
		}
	}
	for _, w := range r.Ways {
		way := TroubleWay{Remedy: string(w.Remedy), What: w.What, Gain: w.Gain, Why: w.Why}
		switch w.Remedy {
		case demand.LeaveSkin:
			way.Rank = 20
			if i := slices.IndexFunc(r.Bellies, func(b BellyLine) bool { return b.Tag == w.What }); i >= 0 && w.Gain > 0 {
				way.Harm.Rind = r.Bellies[i].Cut.Slabs.Count + w.Gain
			}
			if w.Gain == 0 {
				way.Costs = "nothing"
			}
			if w.Act != "" && w.Belly != 0 {
				way.ID = fmt.Sprintf("skin:%d", w.Belly)
			} else if w.Belly == 0 {
				way.Why += "; to be chosen when it hangs here"
			}
		case demand.TakeFree:
			way.Rank = 25
		case demand.Thaw:
			way.Rank = 40
			if w.Act != "" {
				class := t.Touched[slices.IndexFunc(t.Touched, func(c TouchedClass) bool { return c.ID == w.Class })]
				way.ID = fmt.Sprintf("thaw:%d:%s", w.Belly, class.Code)
				b, err := s.bellies(db, 0, "b.id = ?", w.Belly)
				if err != nil {
					return err
				}
				way.Harm.Money = s.Rules.ValueOf("belly").PerPound(b[0].Weight)
				way.Costs = fmt.Sprintf("the belly, worth %s; no guest is touched", way.Harm.Money)
			}
		default:
			continue // demos, volunteers and calling off are listed class by class
		}
		t.Ways = append(t.Ways, way)
	}
	return nil
}

// leastSlab is the smallest slab anybody is asked to take.
const leastSlab = 3 * unit.Pound

// smallerWay is one piece more out of a belly, each under the promised weight: only with
// the guests' yes, and for each pound short of the usual slab the credit of the house
// (R23b).
func (s *Store) smallerWay(t *Trouble, r *Recount) {
	for _, b := range r.Bellies {
		n := b.Cut.Slabs.Count + 1
		each := b.Cut.Net / unit.Weight(n)
		if !b.Usable() || b.Moved > 0 || each >= s.Rules.SlabMin || each < leastSlab {
			continue
		}
		credit := s.Rules.ShortPound.PerPound(s.Rules.SlabFixed - each)
		t.Ways = append(t.Ways, TroubleWay{Remedy: "smaller slabs", What: b.Tag, Gain: 1, Rank: 55, Harm: demand.Harm{Asked: n, Money: credit * unit.Money(n)},
			Why:   fmt.Sprintf("%d × %s instead of %d × %s, only with the guests' yes", n, each.LB(), n-1, b.Cut.Slabs.Each.LB()),
			Costs: fmt.Sprintf("%s asked, %s credit each", peopleWord(n), credit)})
	}
}

func touchedIDs(t *Trouble) []shop.ClassID {
	var ids []shop.ClassID
	for _, c := range t.Touched {
		ids = append(ids, c.ID)
	}
	return ids
}

// askWay asks for volunteers with a tenth of what they paid as credit (R18e). How many say
// yes is not reckoned.
func (s *Store) askWay(t *Trouble) {
	for _, c := range t.Touched {
		if c.Short == 0 || len(c.Bookings) == 0 {
			continue
		}
		guests := c.Wanted - c.Demos
		money := unit.Money(0)
		if guests > 0 {
			money = (c.paid() * unit.Money(c.Short) / unit.Money(guests)) / 10
		}
		t.Ways = append(t.Ways, TroubleWay{Remedy: string(demand.AskToMove), What: c.Code + ", by the letter below", Rank: 60, Harm: demand.Harm{Asked: c.People, Money: money},
			Why: "each yes frees one slab; it is theirs to say", Costs: fmt.Sprintf("%s asked; for %s about %s of credit", peopleWord(c.People), countWord(c.Short, "slab", "slabs"), money)})
	}
}

// seatPrice is what a seat of a class costs today, 0 while none is set.
func (s *Store) seatPrice(db *gorm.DB, id shop.ClassID) (unit.Money, error) {
	var cents unit.Money
	err := db.Raw(`SELECT coalesce((SELECT p.cents FROM prices p JOIN classes c ON c.kind_id = p.kind_id JOIN class_kinds k ON k.id = c.kind_id
		WHERE c.id = ? AND p.seat = CASE WHEN k.slabs = ? THEN 'slab' ELSE 'guest' END AND p.from_at <= ? ORDER BY p.from_at DESC LIMIT 1), 0)`, id, true, s.Now()).Scan(&cents).Error
	return cents, err
}

// otherFarms says what other farms could bring in place of what one cannot.
func (s *Store) otherFarms(db *gorm.DB, t *Trouble, o *shop.Order) error {
	missing := o.Animals
	if o.AnsweredAt != 0 {
		missing = o.Animals - o.Promised
	}
	if missing <= 0 {
		return nil
	}
	rows, err := many[shop.YieldProfile](db, "id", "species = ? AND farm_id <> ?", o.Species, o.FarmID)
	if err != nil {
		return err
	}
	for _, row := range rows {
		y, err := yieldOf(db, row.FarmID, o.Species)
		if err != nil {
			return err
		}
		each := y.Profile.PerBelly(s.Rules.SlabRule(), 0).Slabs.Count
		cost := y.Row.PricePerPound.PerPound(y.Row.HCW) + y.Row.KillFee + y.Farm.HaulCents
		why := fmt.Sprintf("%s of %s give %s", shop.AnimalsIn(o.Species, missing), y.Row.HCW.LB(), countWord(2*missing*each, "slab", "slabs"))
		if o.OrderBy < s.Now() {
			why += fmt.Sprintf("; the order-by was %s, so ring first", o.OrderBy.Show(s.Loc))
		}
		t.Ways = append(t.Ways, TroubleWay{Remedy: "ask another farm", What: y.Farm.Name, Rank: 50, Harm: demand.Harm{Money: cost * unit.Money(missing)}, Why: why,
			Costs: fmt.Sprintf("%s; no guest is touched", cost*unit.Money(missing))})
	}
	return nil
}
