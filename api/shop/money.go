package shop

import "flitchbook/planner/unit"

// Payment is one movement of money for a booking or voucher: in above zero, back
// below. Rows are only ever added. Key makes a repeated notice count once (R3).
type Payment struct {
	ID        PaymentID
	BookingID BookingID // 0 for a voucher sale
	VoucherID VoucherID // the voucher bought, or used to pay
	CreditID  CreditID  // the credit used to pay
	Cents     unit.Money
	Method    string // "till", "cash", "card", "transfer", "online", "voucher", "credit"
	Key       string // unique
	Note      string
	At        unit.Instant
	Actor     string
}

// TableName of the record.
func (Payment) TableName() string { return "payments" }

// Voucher is a present: one seat of a kind, or a sum of money (R7).
type Voucher struct {
	ID            VoucherID
	CodeHash      string // SHA-256 of the code on the card
	CodeEnd       string // its last four signs, for the counter
	Kind          string // "seat" or "money"
	KindID        KindID // of a seat voucher
	PaidCents     unit.Money
	LeftCents     unit.Money // of a money voucher
	State         VoucherState
	BuyerName     string
	BuyerEmail    string
	ReceiverName  string
	ReceiverEmail string
	SendOn        unit.Day // nothing reaches the receiver before this day, 10:00
	SoldOn        unit.Day
	ExpiresOn     unit.Day
}

// TableName of the record.
func (Voucher) TableName() string { return "vouchers" }

// Credit is money the shop owes a person (R4, R5, R23b).
type Credit struct {
	ID         CreditID
	OwnerName  string
	OwnerEmail string
	Cents      unit.Money
	LeftCents  unit.Money
	State      CreditState
	Reason     string
	BookingID  BookingID // it came from
	ExpiresOn  unit.Day
	CreatedAt  unit.Instant
}

// TableName of the record.
func (Credit) TableName() string { return "credits" }
