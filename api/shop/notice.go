package shop

import (
	"encoding/json"

	"flitchbook/planner/unit"
)

// Notice is one message waiting to be sent or sent. It is written in the same
// transaction as the fact it tells; Key is unique, so one fact is told once.
type Notice struct {
	ID          NoticeID
	Key         string // "booked/28", "ready/28"
	Kind        string // which text: one of the Notice… words
	State       NoticeState
	ToName      string
	ToAddr      string
	Facts       string // JSON of Facts: what was true when it was written
	Subject     string // what it is about: "booking", "guest", "order", "class", "slab", "hold"
	SubjectID   int64
	Urgent      bool // goes in quiet hours too (R40)
	DueAt       unit.Instant
	Attempts    int
	LeasedUntil unit.Instant
	SentAt      unit.Instant
	LastError   string
	CreatedAt   unit.Instant
}

// TableName of the record.
func (Notice) TableName() string { return "notices" }

// Facts is the snapshot a notice tells. Each kind uses its part; links are filled
// in when the notice is leased and are never stored.
type Facts struct {
	Ref        string       `json:",omitempty"` // booking or order number
	Class      string       `json:",omitempty"` // title
	ClassCode  string       `json:",omitempty"`
	StartsAt   unit.Instant `json:",omitempty"`
	EndsAt     unit.Instant `json:",omitempty"`
	WasAt      unit.Instant `json:",omitempty"` // where a moved class stood before
	Seats      int          `json:",omitempty"`
	Watching   int          `json:",omitempty"`
	Total      unit.Money   `json:",omitempty"`
	Paid       unit.Money   `json:",omitempty"`
	Owes       unit.Money   `json:",omitempty"`
	Back       unit.Money   `json:",omitempty"` // given back
	Credit     unit.Money   `json:",omitempty"`
	DueOn      unit.Day     `json:",omitempty"` // balance, answer or expiry
	Until      unit.Instant `json:",omitempty"` // hold, offer or answer ends
	ReadyOn    unit.Day     `json:",omitempty"`
	OldReadyOn unit.Day     `json:",omitempty"`
	UseBy      unit.Day     `json:",omitempty"`
	Days       int          `json:",omitempty"` // how long a packet has waited on the shelf
	Reason     string       `json:",omitempty"`
	Wear       string       `json:",omitempty"`
	Asked      []Question   `json:",omitempty"` // the little questions of the kind of class
	Tags       []string     `json:",omitempty"`
	Places     []string     `json:",omitempty"`
	Ate        []string     `json:",omitempty"` // dinners something recalled was eaten at, with day and hour
	Took       []string     `json:",omitempty"` // classes whose shares went home
	Lines      []string     `json:",omitempty"` // ready-made lines, such as an owner's morning list
	Farm       string       `json:",omitempty"`
	Plant      string       `json:",omitempty"`
	Species    string       `json:",omitempty"`
	Animals    int          `json:",omitempty"`
	Promised   int          `json:",omitempty"`
	HangWeight unit.Weight  `json:",omitempty"`
	KillDay    unit.Day     `json:",omitempty"`
	DeliverOn  unit.Day     `json:",omitempty"`
	Weights    []string     `json:",omitempty"`
	Code       string       `json:"-"` // a voucher's code, filled in when leased
	From       string       `json:",omitempty"`
	Invite     *Invite      `json:",omitempty"`
	Links      Links        `json:"-"`
}

// Invite is the calendar part of a notice (RFC 5546).
type Invite struct {
	UID       string
	Sequence  int
	Cancel    bool // METHOD CANCEL rather than REQUEST
	Title     string
	Text      string
	StartsAt  unit.Instant
	EndsAt    unit.Instant
	Organizer string `json:",omitempty"`
}

// Links are the secret addresses a message carries, filled in when it is leased.
type Links struct {
	Booking string
	Guest   string
	Slab    string
	Order   string
	Class   string
	Season  string
	Feed    string
}

// The kinds of notice. The text of each is a template of the same name in mail.
const (
	NoticeHeld         = "held"          // counter hold, to the payer
	NoticeBooked       = "booked"        // firm, with invitation, to the payer
	NoticePaid         = "paid"          // balance or later payment
	NoticeWaiting      = "waiting"       // joined the waiting list
	NoticeOffered      = "offered"       // a seat came free
	NoticeOfferLapsed  = "offer-lapsed"  //
	NoticeGuestNamed   = "guest-named"   // to a named guest: own link, no price
	NoticeNeedsMissing = "needs-missing" // five days before
	NoticeBalanceDue   = "balance-due"
	NoticeClassSoon    = "class-soon"    // seven days and one day before, 10:00
	NoticeClassEvening = "class-evening" // evening of the class, 18:00, take-home card again
	NoticeClassMoved   = "class-moved"
	NoticeClassOff     = "class-off" // called off, with cancellation
	NoticeLetGo        = "let-go"    // receipt of leaving, with cancellation
	NoticeReturned     = "returned"  // money that came online and could not be used goes back
	NoticeCredit       = "credit"
	NoticePickReopened = "pick-reopened"
	NoticeDateMoved    = "date-moved" // ready-about moves by a day or more
	NoticeHoldTold     = "hold-told"  // slab being checked
	NoticeReady        = "ready"
	NoticeCollect      = "collect" // days 3, 7, 10, 13
	NoticeFreezer      = "freezer"
	NoticeFinal        = "final"
	NoticeCollected    = "collected"
	NoticeDumped       = "dumped"    // slab lost: what the owner of it may choose (R34)
	NoticeMissed       = "missed"    // did not come to a bacon class (R43)
	NoticeRecall       = "recall"    // at once, any hour
	NoticeAfter        = "afterward" // two questions, a week after collecting
	NoticeVoucherSold  = "voucher-sold"
	NoticeVoucherGift  = "voucher-gift"
	NoticeOrderAsked   = "order-asked" // to the farm, with the slip
	NoticeOrderRemind  = "order-remind"
	NoticeOrderChanged = "order-changed"
	NoticeOrderThanks  = "order-thanks" // with the weights
	NoticeYieldNote    = "yield-note"   // to the farm: what its animals gave; the owner presses
	NoticeOwnerMorning = "owner-morning"
	NoticeOwnerTask    = "owner-task" // a decision is due
	NoticeHoldAlarm    = "hold-alarm" // to staff, never held back
	NoticeFarmAnswered = "farm-answered"
	NoticeLetter       = "letter" // in the owner's own words, after trouble
)

// NoticeKinds lists every kind, in the order of a booking's life.
var NoticeKinds = []string{
	NoticeHeld, NoticeBooked, NoticePaid, NoticeWaiting, NoticeOffered, NoticeOfferLapsed, NoticeGuestNamed,
	NoticeNeedsMissing, NoticeBalanceDue, NoticeClassSoon, NoticeClassEvening, NoticeClassMoved, NoticeClassOff,
	NoticeLetGo, NoticeReturned, NoticeCredit, NoticePickReopened, NoticeDateMoved, NoticeHoldTold, NoticeReady, NoticeCollect,
	NoticeFreezer, NoticeFinal, NoticeCollected, NoticeDumped, NoticeMissed, NoticeRecall, NoticeAfter,
	NoticeVoucherSold, NoticeVoucherGift, NoticeOrderAsked, NoticeOrderRemind, NoticeOrderChanged,
	NoticeOrderThanks, NoticeYieldNote, NoticeOwnerMorning, NoticeOwnerTask, NoticeHoldAlarm, NoticeFarmAnswered, NoticeLetter,
}

// Pack writes facts for storing.
func (f Facts) Pack() string {
	b, err := json.Marshal(f)
	if err != nil {
		panic("shop: facts cannot be written: " + err.Error()) // plain values only
	}
	return string(b)
}

// Unpack reads stored facts.
func (n Notice) Unpack() (Facts, error) {
	var f Facts
	err := json.Unmarshal([]byte(n.Facts), &f)
	return f, err
}
