package store

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"time"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/money"
	"flitchbook/planner/unit"
)

// PrivatePage is what a party of its own may have, and on which evenings.
type PrivatePage struct {
	Offers   []OfferView
	Evenings []unit.Day // with nothing in the room
	Deposit  unit.Money
	RestDays int
}

// OfferView is one offer with what it costs.
type OfferView struct {
	shop.PrivateOffer
	Kind  string     // code of the kind
	Head  unit.Money // a head; 0: the flat price
	Ahead int        // days it must be asked before
}

// A PrivateQuote is what a party would cost, and when it is paid (R2).
type PrivateQuote struct {
	Total, Deposit, Rest unit.Money
	RestBy               unit.Day
	LeastHeads           int // the final head count may fall to
}

// PrivatePage reads the offers and the free evenings of the coming weeks.
func (s *Store) PrivatePage(ctx context.Context) (*PrivatePage, error) {
	db := s.read(ctx)
	p := &PrivatePage{Deposit: s.Rules.PrivateDeposit, RestDays: s.Rules.PrivateBalance}
	offers, err := many[shop.PrivateOffer](db, "id", "1 = 1")
	if err != nil {
		return nil, err
	}
	for _, o := range offers {
		v, err := s.offerView(db, o)
		if err != nil {
			return nil, err
		}
		p.Offers = append(p.Offers, v)
	}
	p.Evenings, err = s.freeEvenings(db)
	return p, err
}

func (s *Store) offerView(db *gorm.DB, o shop.PrivateOffer) (OfferView, error) {
	v := OfferView{PrivateOffer: o, Ahead: s.Rules.PrivateAhead}
	k, err := take[shop.ClassKind](db, "The kind of class", "id = ?", o.KindID)
	if err != nil {
		return v, err
	}
	v.Kind = k.Code
	if k.Species != "" { // the animal is ordered so long before it is killed
		v.Ahead = max(v.Ahead, k.LeadDays+k.HangMin+1)
	}
	if o.FlatCents > 0 {
		return v, nil
	}
	var card ClassCard
	err = s.prices(db, k, s.Now(), &card)
	v.Head = card.Price
	return v, err
}

// freeEvenings are the days the counter is open on which nothing stands in the room in
// the evening; one room, one calendar. What the owner only sketches counts as taken: it
// may be published any moment.
func (s *Store) freeEvenings(db *gorm.DB) ([]unit.Day, error) {
	from, to := s.Today()+unit.Day(s.Rules.PrivateAhead), s.Today()+unit.Day(7*s.Rules.PrivateWeeks)
	classes, err := many[shop.Class](db, "starts_at", "day BETWEEN ? AND ? AND state <> ?", from, to, shop.ClassOff)
	if err != nil {
		return nil, err
	}
	closed, err := many[shop.ClosedDay](db, "day", "day BETWEEN ? AND ?", from, to)
	if err != nil {
		return nil, err
	}
	var free []unit.Day
	for d := from; d <= to; d++ {
		begins, ends := s.evening(d)
		taken := slices.ContainsFunc(classes, func(c shop.Class) bool { return c.StartsAt < ends && c.EndsAt > begins }) ||
			slices.ContainsFunc(closed, func(c shop.ClosedDay) bool { return c.Day == d })
		if !taken && slices.Contains(s.Rules.CounterDays, int(d.Weekday())) {
			free = append(free, d)
		}
	}
	return free, nil
}

func (s *Store) evening(d unit.Day) (from, to unit.Instant) {
	return d.At(s.Rules.EveningFrom, 0, s.Loc), d.At(s.Rules.EveningTo, 0, s.Loc)
}

// PrivateQuote reckons what so many people would cost (R1, R2).
func (s *Store) PrivateQuote(o OfferView, day unit.Day, heads int) PrivateQuote {
	q := PrivateQuote{Total: o.FlatCents, LeastHeads: heads}
	if o.FlatCents == 0 {
		q.Total, q.LeastHeads = o.Head*unit.Money(heads), max(1, money.LeastHeads(heads))
	}
	due := money.PrivateDue(q.Total, s.Today(), day, s.moneyRules())
	q.Deposit, q.RestBy = due.Now, due.RestBy
	q.Rest = q.Total - q.Deposit
	return q
}

// AskPrivate keeps somebody's question for an evening of their own and tells the shop.
// Nothing is held by it; the page says so.
func (s *Store) AskPrivate(ctx context.Context, n shop.NewQuote, once Once) (*shop.QuoteRequest, error) {
	n.Name, n.Email, n.Phone, n.Words = trim(n.Name), trim(n.Email), trim(n.Phone), trim(n.Words)
	var r *shop.QuoteRequest
	by := shop.Customer("visitor")
	err := s.tx(ctx, func(t tx) error {
		if done, seen, err := t.repeated(once, "ask private", by); err != nil || seen {
			if err == nil {
				r, err = take[shop.QuoteRequest](t.DB, "The request", "id = ?", done)
			}
			return err
		}
		o, err := take[shop.PrivateOffer](t.DB, "The offer", "id = ?", n.Offer)
		if err != nil {
			return field("offer", "Choose what it shall be.")
		}
		if err := n.Check(*o); err != nil {
			return err
		}
		v, err := s.offerView(t.DB, *o)
		if err != nil {
			return err
		}
		free, err := s.freeEvenings(t.DB)
		if err != nil {
			return err
		}
		switch {
		case !slices.Contains(free, n.Day):
			return field("day", "%s is not free, or too near. Choose one of the free evenings.", n.Day.Show())
		case int(n.Day-t.today) < v.Ahead:
			return field("day", "The meat for %s must be ordered before: choose a day from %s on.", o.Name, (t.today + unit.Day(v.Ahead)).Show())
		}
		r = &shop.QuoteRequest{OfferID: o.ID, Day: n.Day, Heads: n.Heads, Name: n.Name, Email: n.Email, Phone: n.Phone, Words: n.Words, State: shop.QuoteOpen, AskedAt: t.now}
		if err := t.Create(r).Error; err != nil {
			return err
		}
		if err := t.note(by, "quote", int64(r.ID), "asked", "", shop.QuoteOpen, ""); err != nil {
			return err
		}
		err = t.tellShop(shop.Notice{Key: fmt.Sprintf("quote/%d", r.ID), Kind: shop.NoticeOwnerTask, Subject: "quote", SubjectID: int64(r.ID)},
			shop.Facts{Reason: fmt.Sprintf("%s for %d people is asked for, on %s.", o.Name, n.Heads, n.Day.Show()), Lines: []string{"Look at it under Private events: open the evening for them, or say why not."}})
		if err != nil {
			return err
		}
		return t.remember(once, "ask private", by, strconv.FormatInt(int64(r.ID), 10))
	})
	return r, err
}

// A QuoteView is a request with what it asks and what that would cost now.
type QuoteView struct {
	shop.QuoteRequest
	Offer   OfferView
	Quote   PrivateQuote
	Clash   string // what stands in the room that evening; "": nothing
	Booking int    // number of the booking opened from it
}

// PrivateRequests lists the requests, those that wait first.
func (s *Store) PrivateRequests(ctx context.Context) ([]QuoteView, error) {
	db := s.read(ctx)
	rows, err := many[shop.QuoteRequest](db.Limit(200), "CASE WHEN state = 'asked' THEN 0 ELSE 1 END, asked_at DESC, id DESC", "1 = 1")
	if err != nil {
		return nil, err
	}
	var out []QuoteView
	for _, r := range rows {
		v := QuoteView{QuoteRequest: r}
		o, err := take[shop.PrivateOffer](db, "The offer", "id = ?", r.OfferID)
		if err != nil {
			return nil, err
		}
		if v.Offer, err = s.offerView(db, *o); err != nil {
			return nil, err
		}
		v.Quote = s.PrivateQuote(v.Offer, r.Day, r.Heads)
		if r.State == shop.QuoteOpen {
			from, to := s.evening(r.Day)
			if v.Clash, err = s.inTheRoom(db, 0, from, to, true); err != nil {
				return nil, err
			}
		}
		if r.BookingID != 0 {
			if err := db.Raw("SELECT number FROM bookings WHERE id = ?", r.BookingID).Scan(&v.Booking).Error; err != nil {
				return nil, err
			}
		}
		out = append(out, v)
	}
	return out, nil
}

// inTheRoom names what stands in the room between two moments, besides one class. A
// private event has the room to itself; two classes for everybody may share it where the
// shop has the hands and seats, which publishing checks.
func (s *Store) inTheRoom(db *gorm.DB, besides shop.ClassID, from, to unit.Instant, alone bool) (string, error) {
	rows, err := many[shop.Class](db, "starts_at", "id <> ? AND state NOT IN (?, ?) AND starts_at < ? AND ends_at > ? AND (private = ? OR ?)",
		besides, shop.ClassOff, shop.Sketched, to, from, true, alone)
	if err != nil || len(rows) == 0 {
		return "", err
	}
	c := rows[0]
	return fmt.Sprintf("%s %s, %s to %s", c.Code, c.Title, c.StartsAt.Show(s.Loc), c.EndsAt.Clock(s.Loc)), nil
}

// needRoom refuses a class whose hours meet a private event's, or a private event whose
// hours meet any class's.
func (t tx) needRoom(c *shop.Class) error {
	there, err := t.s.inTheRoom(t.DB, c.ID, c.StartsAt, c.EndsAt, c.Private)
	if err != nil || there == "" {
		return err
	}
	return shop.Stop("room_taken", "The room is taken: %s. A private event has it to itself.", there)
}

// OpenPrivate makes the event a request asks for: the class, the room and the held booking
// with its deposit due (R2), or nothing.
func (s *Store) OpenPrivate(ctx context.Context, by shop.Actor, id shop.RequestID, starts unit.Instant) (*BookingView, error) {
	if !by.May(shop.Owner) {
		return nil, shop.ErrNotAllowed
	}
	var booking shop.BookingID
	err := s.tx(ctx, func(t tx) error {
		r, err := t.openQuote(id)
		if err != nil {
			return err
		}
		o, err := take[shop.PrivateOffer](t.DB, "The offer", "id = ?", r.OfferID)
		if err != nil {
			return err
		}
		k, err := take[shop.ClassKind](t.DB, "The kind of class", "id = ?", o.KindID)
		if err != nil {
			return err
		}
		if starts.Day(s.Loc) != r.Day {
			return field("starts", "They asked for %s.", r.Day.Show())
		}
		code, err := t.privateCode()
		if err != nil {
			return err
		}
		n := shop.NewClass{Code: code, Kind: k.Code, Title: o.Name, StartsAt: starts, Seats: r.Heads, MinSeats: 0, DemoSlabs: -1, Private: true, FlatCents: o.FlatCents}
		c, err := t.addClass(by, n)
		if err != nil {
			return err
		}
		if err := t.mayPublish(c); err != nil {
			return err
		}
		res := t.Model(&shop.Class{}).Where("id = ? AND state = ?", c.ID, shop.Sketched).Update("state", shop.Open)
		if err := changed(res, shop.ErrMoved); err != nil {
			return err
		}
		c.State = shop.Open
		if err := t.note(by, "class", int64(c.ID), "published", string(shop.Sketched), string(shop.Open), ""); err != nil {
			return err
		}
		if err := t.classEntry(c); err != nil {
			return err
		}
		ask := shop.NewBooking{Class: code, Counter: true, PayerName: r.Name, PayerEmail: r.Email, PayerPhone: r.Phone, Note: r.Words, People: make([]shop.NewPerson, r.Heads)}
		ask.People[0].Payer = true
		b, _, people, err := t.newBooking(by, ask, shop.Held)
		if err != nil {
			return err
		}
		booking = b.ID
		until := t.now.Add(time.Duration(s.Rules.HoldCounter) * time.Hour)
		if _, err := t.keepPlaces(b, c, len(people), until); err != nil {
			return err
		}
		if err := t.note(by, "booking", int64(b.ID), "booked", "", string(shop.Held), fmt.Sprintf("%s, until %s", c.Code, until.Show(s.Loc))); err != nil {
			return err
		}
		f, err := t.facts(b, c)
		if err != nil {
			return err
		}
		f.Until, f.Owes = min(until, c.StartsAt), b.DueNow()
		if err := t.tell(t.toPayer(b, shop.NoticeHeld, "held/"+strconv.Itoa(b.Number)), f); err != nil {
			return err
		}
		return t.settleQuote(by, r, shop.QuoteBooked, "", b.ID)
	})
	if err != nil {
		return nil, err
	}
	return s.BookingByID(ctx, booking)
}

// ClosePrivate ends a request without an event, and says why in the shop's own books.
func (s *Store) ClosePrivate(ctx context.Context, by shop.Actor, id shop.RequestID, why string) error {
	if why = trim(why); why == "" {
		return field("why", "Write why nothing comes of it.")
	}
	return s.tx(ctx, func(t tx) error {
		r, err := t.openQuote(id)
		if err != nil {
			return err
		}
		return t.settleQuote(by, r, shop.QuoteClosed, why, 0)
	})
}

func (t tx) openQuote(id shop.RequestID) (*shop.QuoteRequest, error) {
	if err := t.lock("quote_requests", int64(id)); err != nil {
		return nil, err
	}
	r, err := take[shop.QuoteRequest](t.DB, "The request", "id = ?", id)
	if err == nil && r.State != shop.QuoteOpen {
		err = shop.ErrMoved.Saying("This request is %s already.", r.State)
	}
	return r, err
}

func (t tx) settleQuote(by shop.Actor, r *shop.QuoteRequest, state, why string, b shop.BookingID) error {
	res := t.Model(&shop.QuoteRequest{}).Where("id = ? AND state = ?", r.ID, shop.QuoteOpen).
		Updates(map[string]any{"state": state, "why": why, "booking_id": b, "settled_at": t.now, "settled_by": by.Name})
	if err := changed(res, shop.ErrMoved); err != nil {
		return err
	}
	return t.note(by, "quote", int64(r.ID), state, shop.QuoteOpen, state, why)
}

// privateCode is the next free code of a private event: P1, P2, …
func (t tx) privateCode() (string, error) {
	var codes []string
	if err := t.Model(&shop.Class{}).Where("code LIKE 'P%'").Pluck("code", &codes).Error; err != nil {
		return "", err
	}
	last := 0
	for _, c := range codes {
		if n, err := strconv.Atoi(c[1:]); err == nil {
			last = max(last, n)
		}
	}
	return fmt.Sprintf("P%d", last+1), nil
}
