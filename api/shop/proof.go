package shop

import "flitchbook/planner/unit"

// DinnerIngredient is an ingredient lot the kitchen used for a dinner.
type DinnerIngredient struct {
	ID      int64
	ClassID ClassID
	LotID   LotID
	MadeAt  unit.Instant
	EndedAt unit.Instant // taken back; it stays on record
	By      string       `gorm:"column:made_by"`
}

// TableName of the record.
func (DinnerIngredient) TableName() string { return "dinner_lots" }

// Bags is the ingredient a roll of cure bags is entered as: it is opened and used up like
// any other lot.
const Bags = "bags"

// BagUse ties a slab to the roll its bag came from.
type BagUse struct {
	ID     int64
	SlabID SlabID
	LotID  LotID
	At     unit.Instant
	Actor  string
}

// TableName of the record.
func (BagUse) TableName() string { return "bag_uses" }

// Recall is a trace that became serious: what it goes from, and why. What it touches is
// never stored; it is read anew from the records each time.
type Recall struct {
	ID       RecallID
	Handle   string // "lot/14", "jar/PB?from=…": the trace's address
	Name     string // in words: "black pepper P-117"
	Reason   string // as the people touched read it
	OpenedAt unit.Instant
	OpenedBy string
}

// TableName of the record.
func (Recall) TableName() string { return "recalls" }

// RecallMessage says that a message of a recall speaks for a party. Who is touched in two
// parties gets one message for both.
type RecallMessage struct {
	RecallID  RecallID  `gorm:"primaryKey"`
	BookingID BookingID `gorm:"primaryKey"`
	NoticeID  NoticeID  `gorm:"primaryKey"`
}

// TableName of the record.
func (RecallMessage) TableName() string { return "recall_messages" }

// RecallCall is an attempt to reach a party of a recall by another way than a message.
type RecallCall struct {
	ID        int64
	RecallID  RecallID
	BookingID BookingID
	Reached   bool
	Words     string
	At        unit.Instant
	Actor     string
}

// TableName of the record.
func (RecallCall) TableName() string { return "recall_calls" }

// Drill is one try of how good the records are: a slab nobody chose, and what a person
// could say of it.
type Drill struct {
	ID          int64
	SlabID      SlabID
	AskedAt     unit.Instant
	AnsweredAt  unit.Instant // 0 until then
	Ingredient  string       // whose lot is asked for
	FarmSaid    string
	LotSaid     string
	Right       int   `gorm:"column:right_answers"` // of two
	FoundMicros int64 // how long the records took to give the slab's whole way
	Actor       string
}

// TableName of the record.
func (Drill) TableName() string { return "drills" }

// Grind is one thing that happened at the grinder: it was cleaned, or beef of some sources
// went through it (9 CFR 320.1(b)(4)). Nothing is overwritten: an entry that was wrong is
// corrected by one that names it.
type Grind struct {
	ID         GrindID
	At         unit.Instant
	Cleaned    bool
	Weight     unit.Weight
	Product    string // "ground beef"
	Note       string
	Corrects   GrindID // 0, or the entry this one stands for
	Actor      string
	ReceivedAt unit.Instant
}

// TableName of the record.
func (Grind) TableName() string { return "grinds" }

// GrindSource is one material that went in: bought, with the supplier's establishment
// number, lot and production date; or trim of an animal of our own.
type GrindSource struct {
	ID            int64
	GrindID       GrindID
	Material      string
	Establishment string
	Lot           string
	MadeOn        unit.Day
	AnimalID      AnimalID // 0: bought
}

// TableName of the record.
func (GrindSource) TableName() string { return "grind_sources" }
