package shop

import "flitchbook/planner/unit"

// AmendChoice is what a party chooses for a slab that was dumped (R34).
type AmendChoice string

// The choices; none while nobody has chosen.
const (
	AmendOpen  AmendChoice = ""
	AmendAgain AmendChoice = "again" // the shop cures another, with the same pick
	AmendClass AmendChoice = "class" // another class
	AmendMoney AmendChoice = "money" // all money back
)

// Words names a choice as people read it.
func (c AmendChoice) Words() string {
	switch c {
	case AmendAgain:
		return "cured again for you"
	case AmendClass:
		return "another class"
	case AmendMoney:
		return "all money back"
	}
	return "not chosen yet"
}

// Amend is what is made of a dumped slab for whoever it belonged to.
type Amend struct {
	ID        int64
	SlabID    SlabID
	BookingID BookingID
	Choice    AmendChoice
	AskedAt   unit.Instant
	ChosenAt  unit.Instant
	ChosenBy  string
	ClassID   ClassID    // cured again: out of this class's delivery; 0: no meat found yet
	Unsold    bool       // a seat of that class came off sale for it
	NewSlabID SlabID     // once the owner has said yes
	Cents     unit.Money // given back
	DoneAt    unit.Instant
	DoneBy    string
	Note      string // how another class was settled
}

// TableName of the record.
func (Amend) TableName() string { return "amends" }
