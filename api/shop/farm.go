package shop

import "flitchbook/planner/unit"

// Farm raises animals for the shop.
type Farm struct {
	ID        FarmID
	Code      string
	Name      string
	Email     string
	HaulCents unit.Money // per animal delivered
}

// TableName of the record.
func (Farm) TableName() string { return "farms" }

// YieldProfile is what one farm's animals of one breed give. Yields hang on farm
// and breed, never on species alone.
type YieldProfile struct {
	ID            int64
	FarmID        FarmID
	Species       string
	Breed         string
	HCW           unit.Weight // hot carcass weight
	Shrink        unit.Ratio  // hot to cold
	Belly         unit.Ratio  // of the cold side, rib-off, unsquared
	Squaring      unit.Ratio  // of the belly
	Skin          unit.Ratio  // of the belly
	Cuts          string      // the rest of the side as JSON: [{"name":"ham","share":"25 %"}, …]
	PricePerPound unit.Money  // on hot weight
	KillFee       unit.Money  // per animal, to the plant
	Source        string
	SampleSize    int
	Prior         string // the figures it started from, as JSON of carcass.Profile; "" while it still is those
	Since         unit.Day
}

// TableName of the record.
func (YieldProfile) TableName() string { return "yield_profiles" }

// Plant is an inspected slaughterhouse.
type Plant struct {
	ID              PlantID
	Name            string
	Number          string // establishment number, printed on lots
	KillWeekdays    string // comma list, 0 = Sunday: "2,3"
	DeliveryWeekday int
	DeliveryWindow  string // "07:00–09:00"
}

// TableName of the record.
func (Plant) TableName() string { return "plants" }

// PlantClosure is a span in which the plant kills none of some species.
type PlantClosure struct {
	ID          int64
	PlantID     PlantID
	FromDay     unit.Day
	ToDay       unit.Day // inclusive
	Species     string   // comma list; "" means all
	Reason      string
	AnnouncedAt unit.Instant
}

// TableName of the record.
func (PlantClosure) TableName() string { return "plant_closures" }

// KillDay is a day the plant kills for us.
type KillDay struct {
	ID          KillDayID
	PlantID     PlantID
	Day         unit.Day
	DeliveryDay unit.Day
}

// TableName of the record.
func (KillDay) TableName() string { return "kill_days" }

// Slot is the stock of places on a kill day for one species; the database refuses
// to let Taken pass Capacity (R20).
type Slot struct {
	ID        int64
	KillDayID KillDayID
	Species   string
	Capacity  int
	Taken     int
}

// TableName of the record.
func (Slot) TableName() string { return "slots" }
