package store

import (
	"context"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// A BookingView is a booking as its payer or the counter sees it: no secrets of others,
// and never what anybody answered about food.
type BookingView struct {
	ID            shop.BookingID
	Number        int
	Ref           string
	Secret        string // of the payer's own page
	SlabSecret    string // of the party's My-slab page
	State         shop.BookingState
	Source        string
	LetGoReason   string
	PayerName     string
	PayerEmail    string
	PayerPhone    string
	Collector     string
	CollectorMail string
	Sliced        bool
	Note          string
	Total         unit.Money
	Paid          unit.Money
	Kept          unit.Money
	Owes          unit.Money
	DueNow        unit.Money
	BalanceDueOn  unit.Day
	HoldUntil     unit.Instant // while held
	OfferUntil    unit.Instant // while offered
	AnswerUntil   unit.Instant // the shop called off or moved the class: choose by then
	Ahead         int          // parties before it on the waiting list; -1 when it does not wait
	Class         ClassCard
	Places        int
	Watching      int
	Slabs         int
	ReadyAbout    unit.Day
	People        []PersonView
	CalendarUID   string
	Sequence      int
	Revision      int
}

// PersonView is one person of a party.
type PersonView struct {
	SeatID         shop.SeatID
	GuestID        shop.GuestID
	Name           string
	Email          string
	Age            int
	Payer          bool
	Kind           shop.SeatKind
	Slabs          int
	State          shop.BookingState
	Told           bool // has answered about food; what, only the shop sees
	GuardianSigned bool
	Secret         string // of the guest's own page, for the payer to hand on
	Picks          []PickView
}

// PickView is the spice of one slab.
type PickView struct {
	ID    shop.PickID
	Slot  int
	State shop.PickState
	Code  string
	Name  string
	Tag   string // of the slab, once cut
}

// Missing lists what the party has still to say, in plain words without anybody's health.
func (v BookingView) Missing() (names, needs, picks int) {
	for _, p := range v.People {
		if p.Name == "" {
			names++
		}
		if !p.Told {
			needs++
		}
		for _, k := range p.Picks {
			if k.State == shop.PickOpen || k.State == shop.PickReopened {
				picks++
			}
		}
	}
	return names, needs, picks
}

// BookingByID reads a booking for the counter.
func (s *Store) BookingByID(ctx context.Context, id shop.BookingID) (*BookingView, error) {
	b, err := take[shop.Booking](s.read(ctx), "The booking", "id = ?", id)
	if err != nil {
		return nil, err
	}
	return s.bookingView(ctx, b)
}

// BookingByNumber reads a booking by the number people say.
func (s *Store) BookingByNumber(ctx context.Context, number int) (*BookingView, error) {
	b, err := take[shop.Booking](s.read(ctx), "The booking", "number = ?", number)
	if err != nil {
		return nil, err
	}
	return s.bookingView(ctx, b)
}

// MyBooking reads the booking a private link belongs to.
func (s *Store) MyBooking(ctx context.Context, secret string) (*BookingView, error) {
	b, err := take[shop.Booking](s.read(ctx), "A booking with this link", "token_hash = ?", hashOf(secret))
	if err != nil {
		return nil, err
	}
	return s.bookingView(ctx, b)
}

func (s *Store) bookingView(ctx context.Context, b *shop.Booking) (*BookingView, error) {
	db := s.read(ctx)
	c, err := take[shop.Class](db, "The class", "id = ?", b.ClassID)
	if err != nil {
		return nil, err
	}
	v := s.viewOf(b)
	if v.Class, err = s.card(db, c, s.Now()); err != nil {
		return nil, err
	}
	holds, err := many[shop.SeatHold](db, "id", "booking_id = ? AND ended_at = 0", b.ID)
	if err != nil {
		return nil, err
	}
	if len(holds) > 0 {
		v.HoldUntil = holdEnd(holds[0])
	}
	ahead, w, err := placeInQueue(db, b)
	if err != nil {
		return nil, err
	}
	if v.Ahead = ahead; w != nil {
		v.OfferUntil = w.OfferUntil
	}
	var e shop.Entry
	if err := db.Where("uid = ?", v.CalendarUID).Limit(1).Find(&e).Error; err != nil {
		return nil, err
	}
	v.Sequence = e.Sequence
	if err := s.people(db, b, v); err != nil {
		return nil, err
	}
	if v.Slabs > 0 {
		v.ReadyAbout = v.Class.ReadyAbout
		var entry shop.Entry
		if err := db.Where("uid = ? AND NOT cancelled", s.uid("ready", int64(b.ID))).Limit(1).Find(&entry).Error; err != nil {
			return nil, err
		}
		if entry.Day != 0 {
			v.ReadyAbout = entry.Day
		}
	}
	return v, nil
}

// viewOf is what the booking's own row says; the rest is still empty.
func (s *Store) viewOf(b *shop.Booking) *BookingView {
	return &BookingView{ID: b.ID, Number: b.Number, Ref: b.Ref(), Secret: s.BookingSecret(b), SlabSecret: s.secretFor("slab", b.LinkNo), State: b.State, Source: b.Source, LetGoReason: b.LetGoReason,
		PayerName: b.PayerName, PayerEmail: b.PayerEmail, PayerPhone: b.PayerPhone, Collector: b.Collector, CollectorMail: b.CollectorMail,
		Sliced: b.Sliced, Note: b.Note, Total: b.TotalCents, Paid: b.PaidCents, Kept: b.KeptCents, Owes: b.Owes(), DueNow: b.DueNow(),
		BalanceDueOn: b.BalanceDueOn, AnswerUntil: b.AnswerUntil, CalendarUID: s.uid("booking-class", int64(b.ID)), Revision: b.Revision}
}

// seat adds the people of a booking, and counts them.
func (v *BookingView) seat(people []PersonView) {
	for _, p := range people {
		if p.Kind != shop.WatchSeat {
			v.Places++
		} else {
			v.Watching++
		}
		v.Slabs += p.Slabs
	}
	v.People = people
}

func (s *Store) personView(seat shop.Seat, g shop.Guest) PersonView {
	p := PersonView{SeatID: seat.ID, GuestID: g.ID, Name: g.Name, Email: g.Email, Age: g.Age, Payer: g.Payer, Kind: seat.Kind,
		Slabs: seat.Slabs, State: seat.State, Told: g.NeedsState != shop.NotTold, GuardianSigned: g.GuardianSigned}
	if g.LinkNo != 0 {
		p.Secret = s.secretFor("guest", g.LinkNo)
	}
	return p
}

func (s *Store) people(db *gorm.DB, b *shop.Booking, v *BookingView) error {
	states := waitingOrStanding
	if !b.State.Holds() && b.State != shop.Waiting {
		states = append([]shop.BookingState{shop.LetGo, shop.SeatOff}, states...)
	}
	seats, err := many[shop.Seat](db, "position, id", "booking_id = ? AND class_id = ? AND state IN ?", b.ID, b.ClassID, states)
	if err != nil {
		return err
	}
	guests, err := many[shop.Guest](db, "id", "booking_id = ?", b.ID)
	if err != nil {
		return err
	}
	byID := map[shop.GuestID]shop.Guest{}
	for _, g := range guests {
		byID[g.ID] = g
	}
	var all []PersonView
	for _, seat := range seats {
		p := s.personView(seat, byID[seat.GuestID])
		if p.Picks, err = s.picks(db, seat.ID); err != nil {
			return err
		}
		all = append(all, p)
	}
	v.seat(all)
	return nil
}

func (s *Store) picks(db *gorm.DB, seat shop.SeatID) ([]PickView, error) {
	var out []PickView
	err := db.Raw(`SELECT picks.id, picks.slot, picks.state, COALESCE(jars.code, '') AS code, COALESCE(jars.name, '') AS name, COALESCE(slabs.tag, '') AS tag
		FROM picks LEFT JOIN jars ON jars.id = picks.jar_id
		LEFT JOIN slabs ON slabs.seat_id = picks.seat_id AND slabs.slot = picks.slot AND slabs.state NOT IN (?, ?)
		WHERE picks.seat_id = ? ORDER BY picks.slot`, shop.Dumped, shop.Replaced, seat).Scan(&out).Error
	return out, err
}
