package shop

import "flitchbook/planner/unit"

// CheckoutState is where a payment on the provider's own page stands.
type CheckoutState string

// The states of a checkout.
const (
	CheckoutNew   CheckoutState = "new"   // written down, the provider not asked yet
	CheckoutOpen  CheckoutState = "open"  // the provider shows its page
	CheckoutPaid  CheckoutState = "paid"  // the money came, whatever became of it here
	CheckoutEnded CheckoutState = "ended" // no money came and none will
)

// Checkout is one payment somebody was sent to the provider's page for. What it is for and
// how much stand fixed before the provider is asked.
type Checkout struct {
	ID         CheckoutID
	Key        string    // unique: of the press of the button
	BookingID  BookingID // 0: a voucher is bought
	VoucherID  VoucherID // once it is sold
	Cents      unit.Money
	Codes      string // JSON of CheckoutCodes: spent when the money comes, not before
	Sale       string // JSON of NewVoucher, "" for a booking
	State      CheckoutState
	Ref        string // the provider's name of it; unique once known
	PaymentRef string // the provider's name of the payment, to give back from
	URL        string // the provider's page
	Outcome    string // what became of the money here, in words
	CreatedAt  unit.Instant
	PaidAt     unit.Instant
	AskAt      unit.Instant // when the provider is asked what became of it, should its notice be lost
	Asked      int
}

// TableName of the record.
func (Checkout) TableName() string { return "checkouts" }

// CheckoutCodes are vouchers and credits brought along.
type CheckoutCodes struct{ Vouchers, Credits []string }

// CheckoutAsk is what somebody wants to pay on the provider's page.
type CheckoutAsk struct {
	Vouchers []string
	Credits  []string
	All      bool // everything owed, not only what is due now
	Key      string
}

// A CheckoutResult is what the provider says of a checkout.
type CheckoutResult struct {
	State      CheckoutState // open, paid or ended
	Cents      unit.Money    // of a paid one
	PaymentRef string
}

// RefundState is where money on its way back through the provider stands.
type RefundState string

// The states of a refund.
const (
	RefundWaiting  RefundState = "waiting" // not handed to the provider yet, or to be tried again
	RefundSent     RefundState = "sent"    // the provider has it
	RefundDone     RefundState = "done"
	RefundFailed   RefundState = "failed"            // a person must settle it
	RefundOtherWay RefundState = "given another way" // at the counter, by a person's word
)

// Refund is money of a checkout on its way back. It is written with the give-back it
// carries out and handed to the provider after that, like a notice.
type Refund struct {
	ID          RefundID
	Key         string // unique; tells the provider that a repeated order is the same one
	CheckoutID  CheckoutID
	BookingID   BookingID
	Cents       unit.Money
	State       RefundState
	Ref         string // the provider's name of it
	DueAt       unit.Instant
	LeasedUntil unit.Instant
	Attempts    int
	LastError   string
	CreatedAt   unit.Instant
	EndedAt     unit.Instant
}

// TableName of the record.
func (Refund) TableName() string { return "refunds" }
