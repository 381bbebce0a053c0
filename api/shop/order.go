package shop

import (
	"fmt"
	"strings"

	"flitchbook/planner/inspection"
	"flitchbook/planner/unit"
)

// Order asks one farm for animals on one kill day.
type Order struct {
	ID         OrderID
	Number     int
	FarmID     FarmID
	KillDayID  KillDayID
	Species    string
	State      OrderState
	Animals    int // asked for
	Promised   int
	Delivered  int
	Condemned  int
	Slots      int      // places of the kill day it holds now (R20)
	DeliverOn  unit.Day // planned; two orders of one kill day may come on different days
	OrderBy    unit.Instant
	PriceCents unit.Money // per pound, hot weight
	KillFee    unit.Money // per animal killed, condemned included (R23a)
	HaulCents  unit.Money // per animal delivered
	Why        string     // the reckoning when it was drafted, as JSON
	Answer     string     // the farm's words
	Short      bool       // marks beside the state
	Over       bool
	Late       bool
	LinkNo     int
	TokenHash  string
	Revision   int
	CreatedAt  unit.Instant
	AskedAt    unit.Instant
	AnsweredAt unit.Instant
}

// TableName of the record.
func (Order) TableName() string { return "orders" }

// AskedAgain says whether the farm has promised less than the order was raised to since
// and has not answered that yet.
func (o Order) AskedAgain() bool {
	return o.AnsweredAt == 0 && (o.State == Promised || o.State == SlotHeld)
}

// Asks says whether a question to the farm is open.
func (o Order) Asks() bool { return o.State == Asked || o.AskedAgain() }

// OrderChange is what the owner changes of an order that has not been killed yet.
type OrderChange struct {
	Animals   int
	DeliverOn unit.Day // 0 leaves it
	Reason    string   // the farm reads it, if it was asked
}

// Check lists everything wrong with a change of the order.
func (c OrderChange) Check(o Order) error {
	var w Wrong
	if c.Animals < 1 || c.Animals > 100 {
		w.Add("animals", "Between 1 and 100 animals.")
	}
	if strings.TrimSpace(c.Reason) == "" {
		w.Add("reason", "Say why; the farm reads it.")
	}
	if len(c.Reason) > 300 {
		w.Add("reason", "Please keep it under 300 signs.")
	}
	if c.Animals == o.Animals && (c.DeliverOn == 0 || c.DeliverOn == o.DeliverOn) {
		w.Add("animals", "That is what the order says already.")
	}
	return w.Err()
}

// Ref is the order's number as people say it: "Order 7".
func (o Order) Ref() string { return fmt.Sprintf("Order %d", o.Number) }

// OrderLine says for which class an order carries meat.
type OrderLine struct {
	ID      int64
	OrderID OrderID
	ClassID ClassID // 0 for the shop itself
	Piece   string  // "slab", "half", "hindquarter", "whole"
	Wanted  int     // pieces
	Reason  string
}

// TableName of the record.
func (OrderLine) TableName() string { return "order_lines" }

// Delivery is what came off the van for an order.
type Delivery struct {
	ID         DeliveryID
	OrderID    OrderID
	Day        unit.Day
	At         unit.Instant
	Legend     string // establishment number on the inspection mark; without one the meat may not be claimed
	Lot        string // unique
	ReceivedBy string
}

// TableName of the record.
func (Delivery) TableName() string { return "deliveries" }

// Animal is one carcass of an order.
type Animal struct {
	ID         AnimalID
	OrderID    OrderID
	DeliveryID DeliveryID // 0 until delivered
	Number     int        // within the order, from 1
	Tag        string     // the farm's ear tag or tattoo
	Species    string
	Hot        unit.Weight // hot carcass weight; 0 until known
	Condemned  bool
	Age        inspection.Cattle // of cattle at the kill; "" when nobody asked
	KilledOn   unit.Day
}

// TableName of the record.
func (Animal) TableName() string { return "animals" }

// Side is one half of a carcass, weighed cold, or a whole carcass that comes unsplit.
type Side struct {
	ID       SideID
	AnimalID AnimalID
	Which    string      // "L", "R", or "W" for a whole carcass
	Cold     unit.Weight // 0 until weighed
	Hind     unit.Weight // the quarters of a side that came quartered; together Cold
	Fore     unit.Weight
}

// TableName of the record.
func (Side) TableName() string { return "sides" }

// Belly is the belly of one side: rib-off, unsquared.
type Belly struct {
	ID       BellyID
	SideID   SideID
	Weight   unit.Weight // reckoned from the side, or weighed when Measured
	Measured bool
	SkinOn   bool // the owner's choice for this belly (R16, R18b)
}

// TableName of the record.
func (Belly) TableName() string { return "bellies" }

// Claim is the one purpose a piece of meat is promised to (R21). While EndedAt is
// zero no second claim on the same piece can be stored.
type Claim struct {
	ID        ClaimID
	Piece     string // "animal", "side", "belly", "hindquarter"
	SubjectID int64
	Purpose   string // "class", "slabs", "counter", "dinner", "freezer"
	ClassID   ClassID
	MadeAt    unit.Instant
	EndedAt   unit.Instant
	By        string `gorm:"column:made_by"`
}

// TableName of the record.
func (Claim) TableName() string { return "claims" }

// DinnerChoice is the lot a dinner's meat comes from; one counts at a time.
type DinnerChoice struct {
	ID         int64
	ClassID    ClassID
	DeliveryID DeliveryID
	MadeAt     unit.Instant
	EndedAt    unit.Instant
	By         string `gorm:"column:made_by"`
}

// TableName of the record.
func (DinnerChoice) TableName() string { return "dinner_meats" }
