package shop

import (
	"slices"

	"flitchbook/planner/unit"
)

// A LedgerAccount is one place of the shop's books where money stands. Amounts are kept with
// the sign of what the shop has: money in hand above zero, what is owed to people and what
// was earned below zero. So the lines of every entry sum to nothing, and all accounts do.
type LedgerAccount string

// The accounts.
const (
	InCash     LedgerAccount = "cash"
	InCard     LedgerAccount = "card machine"
	InTransfer LedgerAccount = "transfer"
	InOnline   LedgerAccount = "online checkout"
	InTill     LedgerAccount = "demo till"
	BillsPaid  LedgerAccount = "paid out for bills"

	OwedBooking LedgerAccount = "owed to bookings" // subject: the booking
	OwedVoucher LedgerAccount = "owed on vouchers" // the voucher
	OwedCredit  LedgerAccount = "owed as credit"   // the credit
	SeatLift    LedgerAccount = "seats above what their voucher brought"

	EarnedClass LedgerAccount = "earned by classes"    // the class
	KeptSeats   LedgerAccount = "kept of seats let go" // the class
	RunOut      LedgerAccount = "vouchers and credits run out"

	GivenKindly LedgerAccount = "given kindly"          // the booking: more than the rule asks, raised credits, thanks
	ShortWeight LedgerAccount = "given for light slabs" // the booking (R23b)
	CostFarm    LedgerAccount = "farm bills"            // the order
	CostPlant   LedgerAccount = "plant bills"           // the order
)

// An AccountGroup is accounts that are read together.
type AccountGroup struct {
	Name     string
	Owing    bool // shown with its sign turned: what is owed, what was earned
	Accounts []LedgerAccount
}

// AccountGroups lists every account, in the order of the books.
var AccountGroups = []AccountGroup{
	{"Money in, less money out", false, []LedgerAccount{InCash, InCard, InTransfer, InOnline, InTill, BillsPaid}},
	{"Owed to people", true, []LedgerAccount{OwedBooking, SeatLift, OwedVoucher, OwedCredit}},
	{"Earned", true, []LedgerAccount{EarnedClass, KeptSeats, RunOut}},
	{"Given and spent", false, []LedgerAccount{GivenKindly, ShortWeight, CostFarm, CostPlant}},
}

// Group is where an account stands in the books.
func (a LedgerAccount) Group() (AccountGroup, bool) {
	for _, g := range AccountGroups {
		if slices.Contains(g.Accounts, a) {
			return g, true
		}
	}
	return AccountGroup{}, false
}

// moneyAccounts says where the money of a way of paying stands.
var moneyAccounts = map[string]LedgerAccount{"cash": InCash, "card": InCard, "transfer": InTransfer, "online": InOnline, "till": InTill}

// MoneyAccount is where money paid this way stands.
func MoneyAccount(method string) (LedgerAccount, bool) {
	a, ok := moneyAccounts[method]
	return a, ok
}

// A LedgerEntry is one movement of money, written in the transaction of the fact and never
// changed: what was wrong is set right by another entry. Key is unique: a fact is written once.
type LedgerEntry struct {
	ID        LedgerEntryID
	Key       string
	At        unit.Instant
	Day       unit.Day // in the shop
	Text      string
	Actor     string
	BookingID BookingID // it concerns, 0 for none
}

// TableName of the record.
func (LedgerEntry) TableName() string { return "ledger_entries" }

// A LedgerLine is an entry's part on one account.
type LedgerLine struct {
	ID      LedgerLineID
	EntryID LedgerEntryID
	Account LedgerAccount
	Subject int64 // whose: the account says what it is the number of
	Cents   unit.Money
}

// TableName of the record.
func (LedgerLine) TableName() string { return "ledger_lines" }
