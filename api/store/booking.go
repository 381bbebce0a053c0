package store

import (
	"context"
	"fmt"
	"strconv"
	"time"

	"flitchbook/api/shop"
	"flitchbook/planner/money"
	"flitchbook/planner/unit"
)

// moneyRules are the house rules planner/money reckons with.
func (s *Store) moneyRules() money.Rules {
	r := s.Rules
	return money.Rules{PartyDeposit: r.PartyDeposit, DepositShare: r.DepositShare, BalanceDays: r.BalanceDays,
		PrivateDeposit: r.PrivateDeposit, PrivateBalance: r.PrivateBalance, FullBackDays: r.FullBackDays,
		ChooseDays: r.ChooseDays, ChooseShare: r.ChooseShare, CalledOffShare: r.CalledOffShare}
}

// Book takes the seats a party asks for and holds them until they are paid for or the
// hold ends (R3). It refuses with ErrClassFull, with ErrClassHeld while the seats are
// only being held by others, with ErrClassClosed, or with every wrong answer by field.
func (s *Store) Book(ctx context.Context, by shop.Actor, n shop.NewBooking, once Once) (*BookingView, error) {
	var again shop.BookingID
	var v *BookingView
	var class shop.Class
	err := s.tx(ctx, func(t tx) error {
		again, v = 0, nil
		if done, seen, err := t.repeated(once, "book", by); err != nil || seen {
			again = bookingID(done)
			return err
		}
		b, c, people, err := t.newBooking(by, n, shop.Held)
		if err != nil {
			return err
		}
		until := t.now.Add(time.Duration(s.Rules.HoldOnline) * time.Minute)
		later := b.Source == "counter" || n.PayLater
		if later {
			until = t.now.Add(time.Duration(s.Rules.HoldCounter) * time.Hour)
		}
		v = s.viewOf(b)
		v.Ahead = -1
		v.seat(people)
		if v.HoldUntil, err = t.keepPlaces(b, c, v.Places, until); err != nil {
			return err
		}
		if err := t.note(by, "booking", int64(b.ID), "booked", "", string(shop.Held), fmt.Sprintf("%s, until %s", c.Code, until.Show(s.Loc))); err != nil {
			return err
		}
		if later {
			f, err := t.facts(b, c)
			if err != nil {
				return err
			}
			f.Until = min(until, c.StartsAt)
			if err := t.tell(t.toPayer(b, shop.NoticeHeld, "held/"+strconv.Itoa(b.Number)), f); err != nil {
				return err
			}
		}
		class = *c
		return t.remember(once, "book", by, strconv.FormatInt(int64(b.ID), 10))
	})
	if err != nil {
		return nil, err
	}
	if again != 0 {
		return s.BookingByID(ctx, again)
	}
	if v.Class, err = s.card(s.read(ctx), &class, s.Now()); err != nil {
		return nil, err
	}
	if v.Slabs > 0 {
		v.ReadyAbout = v.Class.ReadyAbout
	}
	return v, nil
}

func bookingID(text string) shop.BookingID {
	n, _ := strconv.ParseInt(text, 10, 64) // written by ourselves
	return shop.BookingID(n)
}

// holdSeats keeps a booking's places until a moment, never past the start of the class.
func (t tx) holdSeats(b *shop.Booking, c *shop.Class, until unit.Instant) error {
	seats, err := t.standing(b, shop.Held)
	if err != nil {
		return err
	}
	_, err = t.keepPlaces(b, c, places(seats), until)
	return err
}

func (t tx) keepPlaces(b *shop.Booking, c *shop.Class, places int, until unit.Instant) (unit.Instant, error) {
	h := shop.SeatHold{BookingID: b.ID, ClassID: c.ID, Seats: places, Until: min(until, c.StartsAt)}
	return h.Until, t.Create(&h).Error
}

// newBooking writes a booking with its people, seats and picks. In state held it takes
// the places, in state waiting it takes none.
func (t tx) newBooking(by shop.Actor, n shop.NewBooking, state shop.BookingState) (*shop.Booking, *shop.Class, []PersonView, error) {
	c, err := take[shop.Class](t.DB, "The class", "code = ?", n.Class)
	if err != nil {
		return nil, nil, nil, err
	}
	k, err := t.kindOf(c)
	if err != nil {
		return nil, nil, nil, err
	}
	n.Counter = n.Counter && by.IsStaff()
	tidy(&n)
	if err := n.Check(*k); err != nil {
		return nil, nil, nil, err
	}
	var jars map[string]shop.Jar
	if n.Picks() {
		if jars, err = t.jarsOnTable(c.ID); err != nil {
			return nil, nil, nil, err
		}
	}
	if err := checkPicks(n.People, jars); err != nil {
		return nil, nil, nil, err
	}
	party := shop.Count(n.People)
	if state == shop.Held {
		if err := t.takeSeats(c, party.Places, by); err != nil {
			return nil, nil, nil, err
		}
	}
	b := shop.Booking{ClassID: c.ID, State: state, Source: "online", PayerName: n.PayerName, PayerEmail: n.PayerEmail,
		PayerPhone: n.PayerPhone, Collector: n.Collector, CollectorMail: n.CollectorMail, Sliced: n.Sliced, Note: n.Note, CreatedAt: t.now}
	if n.Counter {
		b.Source = "counter"
	}
	if err := t.setPrices(&b, c, party, len(n.People)); err != nil {
		return nil, nil, nil, err
	}
	b.LinkNo, b.TokenHash = t.s.newLink("booking")
	b.SlabHash = t.s.slabHash(b.LinkNo)
	if b.Number, err = t.bookingNumber(n.Number); err != nil {
		return nil, nil, nil, err
	}
	if err := t.Create(&b).Error; err != nil {
		return nil, nil, nil, fmt.Errorf("book %s: %w", c.Code, err)
	}
	people := make([]PersonView, len(n.People))
	for i, p := range n.People {
		if people[i], err = t.newPerson(&b, i+1, p, state, jars); err != nil {
			return nil, nil, nil, err
		}
	}
	return &b, c, people, nil
}

// setPrices fixes what the booking's seats cost, by the prices of this moment (R1), and
// what is due when (R2).
func (t tx) setPrices(b *shop.Booking, c *shop.Class, party shop.Party, people int) (err error) {
	seat := shop.GuestSeat
	if party.Slabs > 0 {
		seat = shop.SlabSeat
	}
	seats := party.Slabs
	if seat == shop.GuestSeat {
		seats = party.Places
	}
	second := max(0, seats-party.Places)
	switch {
	case c.FlatCents > 0:
		b.SeatCents = unit.Money(unit.MulDiv(int64(c.FlatCents), 1, int64(max(1, party.Places)), unit.HalfUp))
	default:
		if b.SeatCents, err = t.priceAt(c.KindID, seat, t.now); err != nil {
			return err
		}
	}
	if party.Watching > 0 {
		if b.WatchCents, err = t.priceAt(c.KindID, shop.WatchSeat, t.now); err != nil {
			return err
		}
	}
	if seat == shop.SlabSeat {
		if b.SecondCents, err = t.priceAt(c.KindID, shop.SecondSlab, t.now); err != nil {
			return err
		}
	}
	b.TotalCents = b.SeatCents*unit.Money(party.Places) + b.SecondCents*unit.Money(second) + b.WatchCents*unit.Money(party.Watching)
	if c.FlatCents > 0 {
		b.TotalCents = c.FlatCents + b.SecondCents*unit.Money(second) + b.WatchCents*unit.Money(party.Watching)
	}
	due := money.PartyDue(b.TotalCents, people, t.today, c.Day, t.s.moneyRules())
	if c.Private {
		due = money.PrivateDue(b.TotalCents, t.today, c.Day, t.s.moneyRules())
	}
	b.DepositCents, b.BalanceDueOn = due.Now, due.RestBy
	return nil
}

// bookingNumber returns the number asked for, or the next. One row of settings is the
// queue for numbers: two bookings never get the same.
func (t tx) bookingNumber(want int) (int, error) {
	err := t.Exec("INSERT INTO settings (name, value) VALUES ('booking numbers', '') ON CONFLICT (name) DO UPDATE SET value = excluded.value").Error
	if err != nil {
		return 0, err
	}
	var last, same int
	if err := t.Raw("SELECT COALESCE(max(number), 0) FROM bookings").Scan(&last).Error; err != nil {
		return 0, err
	}
	if want == 0 {
		return last + 1, nil
	}
	if err := t.Raw("SELECT count(*) FROM bookings WHERE number = ?", want).Scan(&same).Error; err != nil {
		return 0, err
	}
	if same > 0 {
		return 0, &shop.Error{Kind: shop.Invalid, Code: "invalid", Text: "Please look at the marked answers again.",
			Fields: map[string]string{"number": fmt.Sprintf("There is already a booking %s.", shop.Ref(want))}}
	}
	return want, nil
}

func (t tx) newPerson(b *shop.Booking, position int, p shop.NewPerson, state shop.BookingState, jars map[string]shop.Jar) (v PersonView, err error) {
	g := shop.Guest{BookingID: b.ID, Name: p.Name, Email: p.Email, Age: p.Age, Payer: p.Payer,
		NeedsState: p.Needs.State, Remember: p.Needs.Remember, Wine: p.Wine}
	if g.NeedsState == "" {
		g.NeedsState = shop.NotTold
	}
	if p.Payer {
		if g.Name == "" {
			g.Name = b.PayerName
		}
		g.Email = b.PayerEmail
	}
	if g.NeedsState == shop.NotTold {
		if p.Needs, err = t.remembered(&g); err != nil {
			return v, err
		}
	}
	g.LinkNo, g.TokenHash = t.s.newLink("guest")
	if err := t.Create(&g).Error; err != nil {
		return v, err
	}
	for _, n := range p.Needs.Needs {
		if err := t.Create(&shop.Need{GuestID: g.ID, Allergen: n.Allergen, Severe: n.Severe, Words: n.Words}).Error; err != nil {
			return v, err
		}
	}
	seat := shop.Seat{BookingID: b.ID, ClassID: b.ClassID, GuestID: g.ID, Kind: p.Seat, Position: position, State: state,
		Slabs: shop.Count([]shop.NewPerson{p}).Slabs}
	if err := t.Create(&seat).Error; err != nil {
		return v, err
	}
	v = t.s.personView(seat, g)
	for slot := 1; slot <= seat.Slabs; slot++ {
		var jar shop.Jar
		pick := shop.Pick{SeatID: seat.ID, Slot: slot, State: shop.PickOpen}
		if slot <= len(p.Picks) {
			switch code := p.Picks[slot-1]; code {
			case "":
			case shop.OnTheDayPick:
				pick.State = shop.OnTheDay
			default:
				jar = jars[code]
				pick.JarID, pick.State = jar.ID, shop.PickMade
			}
		}
		if err := t.Create(&pick).Error; err != nil {
			return v, err
		}
		v.Picks = append(v.Picks, PickView{ID: pick.ID, Slot: slot, State: pick.State, Code: jar.Code, Name: jar.Name})
	}
	return v, nil
}

// tidy cuts the spaces at the ends of what was typed. It works on its own copy of the
// people, so that the caller's request stays as it was.
func tidy(n *shop.NewBooking) {
	n.PayerName, n.PayerEmail, n.PayerPhone, n.Note = trim(n.PayerName), trim(n.PayerEmail), trim(n.PayerPhone), trim(n.Note)
	n.Collector, n.CollectorMail = trim(n.Collector), trim(n.CollectorMail)
	people := make([]shop.NewPerson, len(n.People))
	copy(people, n.People)
	for i := range people {
		people[i].Name, people[i].Email = trim(people[i].Name), trim(people[i].Email)
	}
	n.People = people
}
