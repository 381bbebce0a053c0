package shop

import (
	"fmt"
	"slices"
)

// A State is where a record stands. Each noun has its own type so that a slab
// cannot be given an order's state.
type (
	BookingState string
	ClassState   string
	SlabState    string
	OrderState   string
	VoucherState string
	CreditState  string
	NoticeState  string
	HoldState    string
)

// Seats and bookings. A held seat that runs out is let go with the reason "hold ended".
const (
	Waiting BookingState = "waiting"
	Offered BookingState = "offered"
	Held    BookingState = "held"
	Firm    BookingState = "firm"
	Came    BookingState = "came"
	Missed  BookingState = "missed"
	LetGo   BookingState = "let go"
	Moved   BookingState = "moved"
	SeatOff BookingState = "called off"
)

// Classes. Full is not a state, it is a count.
const (
	Sketched   ClassState = "sketched"
	Open       ClassState = "open"
	GoingAhead ClassState = "going ahead"
	Taught     ClassState = "taught"
	ClosedOut  ClassState = "closed out"
	ClassOff   ClassState = "called off"
)

// Slabs.
const (
	Wanted    SlabState = "wanted"
	Cut       SlabState = "cut"
	Kitted    SlabState = "kitted"
	InCure    SlabState = "in cure"
	Rinsed    SlabState = "rinsed"
	InSmoke   SlabState = "in smoke"
	Resting   SlabState = "resting"
	Packed    SlabState = "packed"
	OnShelf   SlabState = "on the shelf"
	Collected SlabState = "collected"
	InFreezer SlabState = "in the freezer"
	OnHold    SlabState = "on hold"
	Unproven  SlabState = "unproven"
	Replaced  SlabState = "replaced"
	Dumped    SlabState = "dumped"
	GivenUp   SlabState = "given up"
)

// SlabsDone are the states of slabs that the shop has no more to do with.
var SlabsDone = []SlabState{Collected, GivenUp, Dumped, Replaced}

// SlabsAtHand are the states of slabs that lie in the shop: all but those, and those not cut.
var SlabsAtHand = slices.DeleteFunc(slices.Clone(SlabMoves.States), func(s SlabState) bool { return s == Wanted || slices.Contains(SlabsDone, s) })

// Orders.
const (
	Needed    OrderState = "needed"
	Asked     OrderState = "asked"
	Promised  OrderState = "promised"
	SlotHeld  OrderState = "slot held"
	Killed    OrderState = "killed"
	Delivered OrderState = "delivered"
	Settled   OrderState = "settled"
	OrderOff  OrderState = "called off"
)

// Vouchers, credits, messages, holds.
const (
	VoucherSold   VoucherState = "sold"
	VoucherSent   VoucherState = "sent"
	VoucherUsed   VoucherState = "used"
	VoucherPart   VoucherState = "part used"
	VoucherRunOut VoucherState = "run out"

	CreditOpen   CreditState = "open"
	CreditUsed   CreditState = "used"
	CreditRunOut CreditState = "run out"

	ToSend    NoticeState = "waiting to send"
	Sent      NoticeState = "sent"
	CameBack  NoticeState = "came back"
	Cancelled NoticeState = "cancelled"

	HoldOpen     HoldState = "open"
	HoldReleased HoldState = "released"
	HoldDumped   HoldState = "dumped"
)

// Moves is the one table of what may follow what. A noun's first row entry is
// where its records begin.
type Moves[S ~string] struct {
	Noun   string
	Start  []S
	States []S
	next   map[S][]S
}

// May says whether a record may go from one state to another.
func (m Moves[S]) May(from, to S) bool {
	for _, s := range m.next[from] {
		if s == to {
			return true
		}
	}
	return false
}

// Check returns nil when the move is allowed, else a Conflict in plain words.
func (m Moves[S]) Check(from, to S) error {
	if m.May(from, to) {
		return nil
	}
	return Stop("no_such_move", "A %s that is %q cannot become %q.", m.Noun, from, to)
}

// Next lists what may follow a state.
func (m Moves[S]) Next(from S) []S { return m.next[from] }

// Ends says whether nothing may follow a state.
func (m Moves[S]) Ends(s S) bool { return len(m.next[s]) == 0 }

func moves[S ~string](noun string, start []S, rows ...[]S) Moves[S] {
	m := Moves[S]{Noun: noun, Start: start, next: map[S][]S{}}
	for _, r := range rows {
		if _, twice := m.next[r[0]]; twice {
			panic(fmt.Sprintf("shop: %s %q stands twice in the table of moves", noun, r[0]))
		}
		m.States = append(m.States, r[0])
		m.next[r[0]] = r[1:]
	}
	return m
}

// The tables. Each row: a state, then every state that may follow it. A slab on
// hold returns to where it was (Slab.HeldFrom), which the store checks besides.
var (
	BookingMoves = moves("seat", []BookingState{Waiting, Held},
		[]BookingState{Waiting, Offered, LetGo, SeatOff},
		[]BookingState{Offered, Held, LetGo, SeatOff},
		[]BookingState{Held, Firm, LetGo, SeatOff},
		[]BookingState{Firm, Came, Missed, LetGo, Moved, SeatOff},
		[]BookingState{Came, SeatOff},
		[]BookingState{Missed, Came, SeatOff}, // a latecomer
		[]BookingState{LetGo},
		[]BookingState{Moved},
		[]BookingState{SeatOff},
	)
	ClassMoves = moves("class", []ClassState{Sketched},
		[]ClassState{Sketched, Open, ClassOff},
		[]ClassState{Open, GoingAhead, ClassOff},
		[]ClassState{GoingAhead, Taught, ClassOff},
		[]ClassState{Taught, ClosedOut},
		[]ClassState{ClosedOut},
		[]ClassState{ClassOff},
	)
	SlabMoves = moves("slab", []SlabState{Wanted},
		[]SlabState{Wanted, Cut, OnHold, Dumped},
		[]SlabState{Cut, Kitted, OnHold, Unproven, Dumped},
		[]SlabState{Kitted, InCure, OnHold, Unproven, Dumped},
		[]SlabState{InCure, Rinsed, OnHold, Unproven, Dumped},
		[]SlabState{Rinsed, InSmoke, OnHold, Unproven, Dumped},
		[]SlabState{InSmoke, Resting, OnHold, Unproven, Dumped},
		[]SlabState{Resting, Packed, OnHold, Unproven, Dumped},
		[]SlabState{Packed, OnShelf, OnHold, Unproven, Dumped},
		[]SlabState{OnShelf, Collected, InFreezer, OnHold, Unproven, Dumped, GivenUp},
		[]SlabState{InFreezer, Collected, OnHold, Unproven, Dumped, GivenUp},
		[]SlabState{OnHold, Wanted, Cut, Kitted, InCure, Rinsed, InSmoke, Resting, Packed, OnShelf, InFreezer, Unproven, Dumped},
		[]SlabState{Unproven, Rinsed, OnHold, Dumped}, // only drained weight tells slabs apart
		[]SlabState{Dumped, Replaced},
		[]SlabState{Collected},
		[]SlabState{Replaced},
		[]SlabState{GivenUp},
	)
	OrderMoves = moves("order", []OrderState{Needed},
		[]OrderState{Needed, Asked, OrderOff},
		[]OrderState{Asked, Promised, OrderOff},
		[]OrderState{Promised, SlotHeld, OrderOff},
		[]OrderState{SlotHeld, Killed, OrderOff},
		[]OrderState{Killed, Delivered},
		[]OrderState{Delivered, Settled},
		[]OrderState{Settled},
		[]OrderState{OrderOff},
	)
	VoucherMoves = moves("voucher", []VoucherState{VoucherSold},
		[]VoucherState{VoucherSold, VoucherSent, VoucherUsed, VoucherPart, VoucherRunOut},
		[]VoucherState{VoucherSent, VoucherUsed, VoucherPart, VoucherRunOut},
		[]VoucherState{VoucherPart, VoucherUsed, VoucherSent, VoucherRunOut},
		[]VoucherState{VoucherUsed, VoucherSent, VoucherPart},
		[]VoucherState{VoucherRunOut, VoucherSent},
	)
	CreditMoves = moves("credit", []CreditState{CreditOpen},
		[]CreditState{CreditOpen, CreditUsed, CreditRunOut},
		[]CreditState{CreditUsed, CreditOpen},
		[]CreditState{CreditRunOut},
	)
	NoticeMoves = moves("message", []NoticeState{ToSend},
		[]NoticeState{ToSend, Sent, Cancelled},
		[]NoticeState{Sent, CameBack},
		[]NoticeState{CameBack},
		[]NoticeState{Cancelled},
	)
	HoldMoves = moves("hold", []HoldState{HoldOpen},
		[]HoldState{HoldOpen, HoldReleased, HoldDumped},
		[]HoldState{HoldReleased},
		[]HoldState{HoldDumped},
	)
)

// IsTaught says whether the class has taken place.
func (s ClassState) IsTaught() bool { return s == Taught || s == ClosedOut }

// Holds says whether a seat in this state takes a place in the class:
// held + firm + offered seats never exceed the seats of the class.
func (s BookingState) Holds() bool {
	switch s {
	case Offered, Held, Firm, Came, Missed:
		return true
	}
	return false
}

// Sold says whether the seat counts as sold meat (rule R17 counts held and firm).
func (s BookingState) Sold() bool { return s.Holds() }
