package shop

import "flitchbook/planner/unit"

// LostTags is slabs whose tags did not come out of the rinse (R35): counted in and out,
// evidence taken, decided with the initials of two people.
type LostTags struct {
	ID       LostID
	In       int `gorm:"column:count_in"`
	Out      int `gorm:"column:count_out"`
	OpenedAt unit.Instant
	OpenedBy string
	Round    int    // of the evidence that counts; 0 before any
	FirstBy  string // whose initials stand under the evidence of this round
	FirstAt  unit.Instant
	SecondBy string
	ClosedAt unit.Instant
}

// TableName of the record.
func (LostTags) TableName() string { return "lost_tags" }

// LostSlab is a slab whose tag is lost.
type LostSlab struct {
	LostID LostID
	SlabID SlabID
}

// TableName of the record.
func (LostSlab) TableName() string { return "lost_slabs" }

// FoundPiece is a piece without a tag, as weighed and seen once.
type FoundPiece struct {
	ID      int64
	LostID  LostID
	Round   int
	Letter  string
	Drained unit.Weight
	Spice   string // code of the jar as can be seen; "" when it cannot be told
	Way     string // "re-tag", "draw", "dump"
	Reason  string
	SlabID  SlabID // whose tag it got; 0: none
	Actor   string
	At      unit.Instant
}

// TableName of the record.
func (FoundPiece) TableName() string { return "found_pieces" }

// SlabCandidate is a slab that a tagged one may have been before it was shared out by draw:
// its meat may be of either side.
type SlabCandidate struct {
	SlabID      SlabID
	CandidateID SlabID
	LostID      LostID
}

// TableName of the record.
func (SlabCandidate) TableName() string { return "slab_candidates" }
