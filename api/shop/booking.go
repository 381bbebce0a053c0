package shop

import (
	"fmt"

	"flitchbook/planner/unit"
)

// Booking is one party's places in one class. Payer, guests and collector are
// three roles and may be three people.
type Booking struct {
	ID            BookingID
	Number        int // shown as K28; the smaller number breaks ties in the smokehouse (R32)
	ClassID       ClassID
	State         BookingState
	Source        string // "online" or "counter"
	PayerName     string
	PayerEmail    string
	PayerPhone    string
	Collector     string // "" means the payer fetches
	CollectorMail string
	Sliced        bool // slice rather than leave whole; open until smoke day
	Note          string
	SeatCents     unit.Money // price of one slab or guest seat when booked; kept when prices rise
	WatchCents    unit.Money
	SecondCents   unit.Money
	TotalCents    unit.Money // of the seats that still stand
	PaidCents     unit.Money // in, less given back
	KeptCents     unit.Money // of what was paid for seats let go, what the leaving rule keeps (R4)
	EarnedCents   unit.Money // of what was paid, what became the shop's own when the class was taught
	DepositCents  unit.Money // due at booking (R2)
	BalanceDueOn  unit.Day   // day the rest is due, or none
	FirmAt        unit.Instant
	AnswerUntil   unit.Instant // the shop called off or moved the class: choose by then (R5), else 0
	LinkNo        int          // raised when the secret link is renewed
	TokenHash     string       // SHA-256 of the link's secret; unique
	SlabHash      string       // the same of the My-slab page's
	LetGoReason   string
	Revision      int
	CreatedAt     unit.Instant
}

// TableName of the record.
func (Booking) TableName() string { return "bookings" }

// Ref is the booking number as people say it: "K28".
func (b Booking) Ref() string { return Ref(b.Number) }

// Ref writes a booking number as people say it.
func Ref(number int) string { return fmt.Sprintf("K%02d", number) }

// Owes is what is still to be paid.
func (b Booking) Owes() unit.Money { return b.TotalCents + b.KeptCents - b.PaidCents }

// DueNow is what is to be paid now: the deposit while it is not in, else all that is owed.
func (b Booking) DueNow() unit.Money {
	if b.BalanceDueOn != 0 && b.PaidCents < b.DepositCents {
		return b.DepositCents - b.PaidCents
	}
	return b.Owes()
}

// PriceOf is what a seat of the booking costs, its second slab included.
func (b Booking) PriceOf(s Seat) unit.Money {
	if s.Kind == WatchSeat {
		return b.WatchCents
	}
	if s.Slabs > 1 {
		return b.SeatCents + b.SecondCents
	}
	return b.SeatCents
}

// Seat is one place in a class. It has its own state, because one of a party may
// leave while the others stay.
type Seat struct {
	ID        SeatID
	BookingID BookingID
	ClassID   ClassID
	GuestID   GuestID
	Kind      SeatKind
	Slabs     int // slabs it brings: 0 watching or clinic, 1, or 2 with a second slab
	Position  int // within the booking, from 1
	State     BookingState
}

// TableName of the record.
func (Seat) TableName() string { return "seats" }

// TakesPlace says whether the seat counts against the seats of the class; a watching
// seat does not (R1).
func (s Seat) TakesPlace() bool { return s.Kind != WatchSeat }

// NeedsState says what is known of a person's food needs. "Not told yet" is an
// answer of its own (R12): it must never look like "none".
type NeedsState string

// The three answers.
const (
	NotTold  NeedsState = "not told"
	NoNeeds  NeedsState = "none"
	HasNeeds NeedsState = "list"
)

// Guest is one person of a party.
type Guest struct {
	ID             GuestID
	BookingID      BookingID
	Name           string
	Email          string
	Age            int // on the day of the class; 0: grown up, not asked further
	Payer          bool
	NeedsState     NeedsState
	Remember       bool // may keep the answers past the rule (R14)
	GuardianSigned bool
	Wine           bool
	LinkNo         int
	TokenHash      string
}

// TableName of the record.
func (Guest) TableName() string { return "guests" }

// Need is one thing a guest cannot or will not eat.
type Need struct {
	ID       int64
	GuestID  GuestID
	Allergen string // one of Allergens, or "other"
	Severe   bool
	Words    string
}

// TableName of the record.
func (Need) TableName() string { return "needs" }

// Allergens asked for (R12): the nine of US label law (FALCPA 2004, FASTER Act
// 2021, in force 1 January 2023) and three more that hide in spice blends.
var Allergens = []string{"milk", "egg", "fish", "shellfish", "tree nut", "peanut", "wheat", "soy", "sesame", "mustard", "celery", "sulphite", "other"}

// PickState says how a slab's spice stands.
type PickState string

// The pick states. OnTheDay means the guest chooses at the table.
const (
	PickOpen     PickState = "open"
	PickMade     PickState = "made"
	PickReopened PickState = "reopened"
	OnTheDay     PickState = "on the day"
)

// Pick is the spice choice for one slab of a seat.
type Pick struct {
	ID     PickID
	SeatID SeatID
	Slot   int   // 1, or 2 for a second slab
	JarID  JarID // 0 while open or on the day
	State  PickState
	Note   string // the guest's own, for the next time
}

// TableName of the record.
func (Pick) TableName() string { return "picks" }

// SeatHold keeps seats for somebody who is paying. It ends at Until, or at
// GraceUntil when paying had begun (R3).
type SeatHold struct {
	ID         SeatHoldID
	BookingID  BookingID
	ClassID    ClassID
	Seats      int
	Until      unit.Instant
	GraceUntil unit.Instant // 0 until paying has begun
	EndedAt    unit.Instant // 0 while it stands
	Reason     string       // "paid", "hold ended", "let go"
}

// TableName of the record.
func (SeatHold) TableName() string { return "seat_holds" }

// WaitingEntry is a party's place in the queue for a full class (R9).
type WaitingEntry struct {
	ID          WaitingID
	ClassID     ClassID
	BookingID   BookingID
	Seats       int
	JoinedAt    unit.Instant
	OfferSentAt unit.Instant
	OfferUntil  unit.Instant
	EndedAt     unit.Instant
	Outcome     string // "", "taken", "lapsed", "left", "called off"
}

// TableName of the record.
func (WaitingEntry) TableName() string { return "waiting_entries" }

// Resale remembers that somebody let a seat go too near the class for money back and is
// credited if it is sold again (R4).
type Resale struct {
	ID         int64
	ClassID    ClassID
	BookingID  BookingID
	SeatID     SeatID
	Cents      unit.Money // credited when sold
	OwnerName  string
	OwnerEmail string
	LeftAt     unit.Instant
	SoldAt     unit.Instant // 0 until sold again
}

// TableName of the record.
func (Resale) TableName() string { return "resales" }
