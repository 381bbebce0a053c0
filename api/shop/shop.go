// Package shop holds the words and rules of the business: what a class, a
// booking, an order, a slab and a notice are, which moves between states are
// allowed, and the house rules. It does no I/O and knows no database; the gorm
// tags on the records are plain strings.
package shop

// The keys of the records. Each is its own type so that one cannot be handed in
// for another.
type (
	KindID        int64
	ClassID       int64
	BookingID     int64
	SeatID        int64
	GuestID       int64
	PickID        int64
	VoucherID     int64
	CreditID      int64
	PaymentID     int64
	CheckoutID    int64
	RefundID      int64
	LedgerEntryID int64
	LedgerLineID  int64
	WaitingID     int64
	SeatHoldID    int64
	FarmID        int64
	PlantID       int64
	KillDayID     int64
	OrderID       int64
	DeliveryID    int64
	AnimalID      int64
	SideID        int64
	BellyID       int64
	ClaimID       int64
	SlabID        int64
	RecipeID      int64
	JarID         int64
	LotID         int64
	TicketID      int64
	WeighOutID    int64
	ScaleID       int64
	RoomID        int64
	PlaceID       int64
	PlacementID   int64
	LoadID        int64
	LineID        int64
	StepID        int64
	HoldID        int64
	LostID        int64
	NoticeID      int64
	AccountID     int64
	FeedID        int64
	RecallID      int64
	GrindID       int64
	OfferID       int64
	RequestID     int64
)

// Role is what a staff account may see and do.
type Role string

// The roles. The owner may do everything; staff everything but money and farm
// orders; the kitchen sees dinners, heads and needs only.
const (
	Owner   Role = "owner"
	Staff   Role = "staff"
	Kitchen Role = "kitchen"
)

// Actor is whoever makes a change. It is an explicit argument of every use case
// and is written beside the change.
type Actor struct {
	Kind   string    // "customer", "staff", "farm" or "shop" (the program itself at a due moment)
	ID     AccountID // of a staff account, else 0
	Name   string    // shown in the trail: "Odile", "payer of K28", "Harl Bank"
	Role   Role      // of a staff account, else ""
	Device string    // the tablet or phone a step was done on, if known
}

// The program itself, acting at a due moment.
var itself = Actor{Kind: "shop", Name: "the shop's clock"}

// Itself returns the actor for what happens at a due moment without a person.
func Itself() Actor { return itself }

// Customer returns the actor for a person on a secret link or a public page.
func Customer(name string) Actor { return Actor{Kind: "customer", Name: name} }

// IsStaff says whether the actor is signed in at all.
func (a Actor) IsStaff() bool { return a.Kind == "staff" }

// May says whether a signed-in actor has one of the roles. The owner may all.
func (a Actor) May(roles ...Role) bool {
	if !a.IsStaff() {
		return false
	}
	if a.Role == Owner {
		return true
	}
	for _, r := range roles {
		if a.Role == r {
			return true
		}
	}
	return false
}
