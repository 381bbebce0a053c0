package shop

import (
	"flitchbook/planner/cure"
	"flitchbook/planner/unit"
)

// Recipe is a dry cure. Its own limits are the shop's plan: they hold while no legal
// limit is chosen (CureLimit), and beside one only where they are stricter.
type Recipe struct {
	ID         RecipeID
	Code       string
	Name       string
	Salt       unit.Ratio // of the basis
	Sugar      unit.Ratio
	Cure       unit.Ratio // curing salt, of the basis
	SkinShare  unit.Ratio // taken off green weight when the skin is on
	Limit      unit.Ratio // most ingoing nitrite, ppm
	Floor      unit.Ratio // least
	Source     string
	ApprovedBy string
	ApprovedOn unit.Day
}

// TableName of the record.
func (Recipe) TableName() string { return "recipes" }

// Jar is a spice blend as it stands on the table.
type Jar struct {
	ID        JarID
	Code      string
	Name      string
	Rate      unit.Ratio // of green weight; 0 for plain
	Contents  string     // comma list, heaviest first
	Allergens string     // comma list of Allergens
}

// TableName of the record.
func (Jar) TableName() string { return "jars" }

// JarAway keeps a jar off the table of one class (R13).
type JarAway struct {
	ClassID ClassID `gorm:"primaryKey"`
	JarID   JarID   `gorm:"primaryKey"`
	Since   unit.Instant
}

// TableName of the record.
func (JarAway) TableName() string { return "jars_away" }

// IngredientLot is one bought bag or tin. Nitrite and nitrate shares belong to the
// lot, never to the name on the tin.
type IngredientLot struct {
	ID         LotID
	Ingredient string // "curing salt", "salt", "sugar", "black pepper"
	Code       string
	Supplier   string
	Nitrite    unit.Ratio
	Nitrate    unit.Ratio
	OpenedOn   unit.Day
	UsedUpOn   unit.Day // none while in use
}

// TableName of the record.
func (IngredientLot) TableName() string { return "ingredient_lots" }

// JarLot says which lot was in a jar from when to when.
type JarLot struct {
	ID    int64
	JarID JarID
	LotID LotID
	From  unit.Instant `gorm:"column:from_at"`
	Until unit.Instant `gorm:"column:until_at"` // 0 while in it
}

// TableName of the record.
func (JarLot) TableName() string { return "jar_lots" }

// CureTicket is the weights to put on one slab (R24).
type CureTicket struct {
	ID           TicketID
	SlabID       SlabID
	RecipeID     RecipeID
	CureLotID    LotID
	JarID        JarID
	Green        unit.Weight
	Basis        unit.Weight
	Salt         unit.Weight
	Sugar        unit.Weight
	Cure         unit.Weight
	Spice        unit.Weight
	PPM          cure.PPM // ingoing nitrite from the rounded curing salt
	LimitCode    string   // it was made under; "" for the recipe's own
	LimitMost    cure.PPM // counted as sodium nitrite
	MadeAt       unit.Instant
	SupersededAt unit.Instant // 0 for the one that counts
}

// TableName of the record.
func (CureTicket) TableName() string { return "cure_tickets" }

// WeighOut is what was really weighed for a ticket. Failed ones stay on record (R25).
type WeighOut struct {
	ID       WeighOutID
	TicketID TicketID
	SlabID   SlabID
	ScaleID  ScaleID
	Salt     unit.Weight
	Sugar    unit.Weight
	Cure     unit.Weight
	Spice    unit.Weight
	PPM      cure.PPM
	Passed   bool
	Reason   string
	At       unit.Instant
	Actor    string
}

// TableName of the record.
func (WeighOut) TableName() string { return "weigh_outs" }

// WeighOutLot ties a weigh-out to an ingredient lot that went on the slab.
type WeighOutLot struct {
	WeighOutID WeighOutID `gorm:"primaryKey"`
	LotID      LotID      `gorm:"primaryKey"`
}

// TableName of the record.
func (WeighOutLot) TableName() string { return "weigh_out_lots" }

// Scale is a scale of the shop; Step is what it can tell apart.
type Scale struct {
	ID   ScaleID
	Name string
	Step unit.Weight
}

// TableName of the record.
func (Scale) TableName() string { return "scales" }

// ScaleCheck is one check of a scale with a known weight (R25: 5 g, 4.9–5.1).
type ScaleCheck struct {
	ID      int64
	ScaleID ScaleID
	Day     unit.Day
	Shown   unit.Weight
	Passed  bool
	Actor   string
	At      unit.Instant
}

// TableName of the record.
func (ScaleCheck) TableName() string { return "scale_checks" }
