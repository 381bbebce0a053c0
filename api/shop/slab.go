package shop

import (
	"fmt"

	"flitchbook/planner/unit"
)

// Slab is one piece of belly on its way from the tray to a hand.
type Slab struct {
	ID          SlabID
	Tag         string // "B4-03"; unique for ever
	ClassID     ClassID
	Number      int
	SeatID      SeatID // 0: the shop's own (demo)
	Slot        int    // which slab of the seat
	Demo        bool
	BellyID     BellyID // the side and animal follow from it
	Piece       int     // of the belly, from 1
	SkinOn      bool
	Planned     unit.Weight // from the cut list
	Green       unit.Weight // weighed at cutting; the base of every limit
	AtSeat      unit.Weight // weighed again at the seat (R23)
	Thickness   unit.Length // at its thickest point, where it was measured; 0 = not
	Finished    unit.Weight // weighed at packing (R36)
	JarID       JarID       // spice that is on it; 0 until known
	State       SlabState
	HeldFrom    SlabState // where it returns to on release; "" unless on hold
	SealedOn    unit.Day
	UnbagFrom   unit.Day // earliest (R27)
	SmokeOn     unit.Day // planned or done
	ReadyOn     unit.Day // honest estimate until it is on the shelf
	PackedOn    unit.Day
	UseBy       unit.Day
	ShelfAt     unit.Instant
	LeakedAt    unit.Instant // its bag lost its vacuum and it was bagged again
	RestartedAt unit.Instant // its liquid was lost: what was weighed and counted before counts no more (R26a)
	Revision    int
}

// TableName of the record.
func (Slab) TableName() string { return "slabs" }

// Tag writes a slab's tag from its class code and number.
func Tag(class string, n int) string { return fmt.Sprintf("%s-%02d", class, n) }

// Step is one thing done to a slab. Rows are only ever added (R44).
type Step struct {
	ID         StepID
	SlabID     SlabID
	From       SlabState `gorm:"column:from_state"`
	To         SlabState `gorm:"column:to_state"`
	What       string    // done without leaving the state: "seat weight", "weigh-out"; "" for a move
	Counted    bool      // false: done during a hold, shown to whoever releases
	DoneAt     unit.Instant
	ReceivedAt unit.Instant
	Actor      string
	Device     string
	Key        string // device, step and time: the same scan counts once; unique
	Reading    string // weight, temperature or place, in words
	Reason     string
}

// TableName of the record.
func (Step) TableName() string { return "steps" }
