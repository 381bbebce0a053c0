package shop

import "flitchbook/planner/unit"

// Room is a place whose temperature matters.
type Room struct {
	ID   RoomID
	Code string // "cure", "walk-in", "smokehouse", "counter", "freezer"
	Name string
}

// TableName of the record.
func (Room) TableName() string { return "rooms" }

// PlaceKind is what sort of place a slab can be in.
type PlaceKind string

// The places.
const (
	Rack     PlaceKind = "rack"
	Overflow PlaceKind = "overflow" // given out by the owner only (R29)
	Hook     PlaceKind = "hook"
	Shelf    PlaceKind = "shelf"
	Freezer  PlaceKind = "freezer"
)

// Place is one rack place, hook, shelf place or freezer place.
type Place struct {
	ID     PlaceID
	RoomID RoomID
	Kind   PlaceKind
	Code   string // "R12", "H19", "C2"; unique
	Bottom bool   // a hook of the bottom row (R31)
}

// TableName of the record.
func (Place) TableName() string { return "places" }

// Placement puts a slab in a place. While Until is zero the database lets neither
// the place nor the slab be used twice.
type Placement struct {
	ID      PlacementID
	PlaceID PlaceID
	SlabID  SlabID
	Since   unit.Instant
	Until   unit.Instant `gorm:"column:until_at"`
}

// TableName of the record.
func (Placement) TableName() string { return "placements" }

// SmokeLoad is one day's smoke.
type SmokeLoad struct {
	ID         LoadID
	Day        unit.Day
	Hooks      int    // in the house
	HouseHooks int    // taken by the shop's own bacon (R30)
	State      string // "planned", then "hung" once the first slab hangs
	Why        string // what waits and why, as JSON of the plan
	Chosen     string // "" by the house rule, "plan" by the plan over all loads ahead
	ChosenBy   string
	ChosenWhy  string
	Wood       string
	Revision   int
}

// TableName of the record.
func (SmokeLoad) TableName() string { return "smoke_loads" }

// LoadSlab is a slab's place in a load; PlaceID is its hook once paired.
type LoadSlab struct {
	LoadID  LoadID `gorm:"primaryKey"`
	SlabID  SlabID `gorm:"primaryKey"`
	PlaceID PlaceID
	Reason  string

	Scanned   bool         // the hook was scanned when the slab was hung, not taken from the plan
	CheckedAt unit.Instant // tag and hook were looked at again; until then the bag label stays with the tub
	CheckedBy string
}

// TableName of the record.
func (LoadSlab) TableName() string { return "load_slabs" }

// Phases of a load's log.
const (
	SmokePhase = "smoke"
	OutPhase   = "out" // a slab's core as it left the smoke: where its cooling begins
	ChillPhase = "chill"
)

// SmokeLine is one line of a load's log. Lines are only ever added: a correction is a
// new line that names the one it stands for and says why; with no temperature it only
// strikes that line out.
type SmokeLine struct {
	ID         LineID
	LoadID     LoadID
	Phase      string // SmokePhase, OutPhase or ChillPhase
	At         unit.Instant
	SlabID     SlabID     // whose probe; 0: not said, or in the chill simply the warmest
	House      *unit.Temp // air of the smokehouse or of the chiller
	Core       *unit.Temp // of the slab; in the chill the warmest point
	Actor      string
	ReceivedAt unit.Instant
	Corrects   LineID
	Reason     string
}

// TableName of the record.
func (SmokeLine) TableName() string { return "smoke_lines" }

// LoadAnswer is a named person's word on a chill that did not pass, for the log as far as
// it went then.
type LoadAnswer struct {
	ID      int64
	LoadID  LoadID
	Outcome string // what the log showed
	Why     string
	Upto    LineID // last line of the chill that was looked at
	Reason  string
	Actor   string
	At      unit.Instant
}

// TableName of the record.
func (LoadAnswer) TableName() string { return "load_answers" }

// HookPlan overrides how many hooks the shop's own bacon takes on a day (R30).
type HookPlan struct {
	Day        unit.Day `gorm:"primaryKey"`
	HouseHooks int
}

// TableName of the record.
func (HookPlan) TableName() string { return "hook_plans" }

// ProbeReading is one temperature of one room (R33).
type ProbeReading struct {
	ID     int64
	RoomID RoomID
	At     unit.Instant
	Temp   unit.Temp
}

// TableName of the record.
func (ProbeReading) TableName() string { return "probe_readings" }

// RoomNote is what somebody says of a stretch of a room's log: why readings are missing,
// what a reading is worth. It stands beside the readings, which are never changed.
type RoomNote struct {
	ID     int64
	RoomID RoomID
	From   unit.Instant `gorm:"column:from_at"`
	To     unit.Instant `gorm:"column:to_at"`
	Text   string
	Actor  string
	At     unit.Instant
}

// TableName of the record.
func (RoomNote) TableName() string { return "room_notes" }

// Hold stops everything it covers until a named person decides (R34).
type Hold struct {
	ID       HoldID
	RoomID   RoomID // 0 unless a whole room
	State    HoldState
	Reason   string
	OpenedAt unit.Instant
	OpenedBy string
	ClosedAt unit.Instant
	ClosedBy string
	Why      string
}

// TableName of the record.
func (Hold) TableName() string { return "holds" }

// HoldSlab is a slab covered by a hold.
type HoldSlab struct {
	HoldID HoldID `gorm:"primaryKey"`
	SlabID SlabID `gorm:"primaryKey"`
}

// TableName of the record.
func (HoldSlab) TableName() string { return "hold_slabs" }
