package shop

import (
	"slices"
	"strings"

	"flitchbook/planner/unit"
)

// DishID names a dish.
type DishID int64

// Dish is one dish of the shop's dinners and the allergens it holds.
type Dish struct {
	ID     DishID
	Name   string       // unique
	Holds  string       // comma list of Allergens, "other" left out
	Board  string       // what it lies on together with others, which touch it; "" lies alone
	GoneAt unit.Instant // when the shop stopped cooking it; 0 while it does
}

// TableName of the record.
func (Dish) TableName() string { return "dishes" }

// MenuDish puts a dish on the menu of every dinner of a kind.
type MenuDish struct {
	KindID KindID `gorm:"primaryKey"`
	DishID DishID `gorm:"primaryKey"`
}

// TableName of the record.
func (MenuDish) TableName() string { return "menus" }

// ClassDish is the kitchen's word against the menu for one dinner.
type ClassDish struct {
	ClassID ClassID `gorm:"primaryKey"`
	DishID  DishID  `gorm:"primaryKey"`
	Served  bool    // cooked though not on its menu; false: left out though it is
	Since   unit.Instant
}

// TableName of the record.
func (ClassDish) TableName() string { return "class_dishes" }

// NewDish is what the kitchen types of a dish.
type NewDish struct {
	Name  string   `json:"name"`
	Holds []string `json:"holds,omitempty"`
	Board string   `json:"board,omitempty"`
	Kinds []string `json:"kinds"` // codes of the kinds of class whose dinners have it
}

// Check tidies a dish and says what is wrong with it, field by field.
func (n *NewDish) Check() error {
	var w Wrong
	n.Name, n.Board = strings.Join(strings.Fields(n.Name), " "), strings.Join(strings.Fields(n.Board), " ")
	if n.Name == "" || len(n.Name) > 60 {
		w.Add("name", "Please write what the dish is called, in at most 60 letters.")
	}
	if len(n.Board) > 40 {
		w.Add("board", "Please write at most 40 letters.")
	}
	var holds []string
	for _, a := range Allergens { // in the order they are asked for, each once
		if a != "other" && slices.Contains(n.Holds, a) {
			holds = append(holds, a)
		}
	}
	for _, a := range n.Holds {
		if !slices.Contains(holds, a) {
			w.Add("holds", "%q is none of the allergens people are asked about.", a)
			break
		}
	}
	n.Holds = holds
	return w.Err()
}
