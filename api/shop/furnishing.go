package shop

import "flitchbook/planner/unit"

// Furnishing is everything a shop sets up once and changes seldom: what it teaches,
// for how much, with which farms, plant, recipes, jars, scales and rooms. It is one
// document, so that a shop's setting-up can be kept in a file and looked over.
type Furnishing struct {
	Name       string             `json:"name"`
	Place      string             `json:"place"`
	Street     string             `json:"street,omitempty"`
	Region     string             `json:"region,omitempty"`
	Postcode   string             `json:"postcode,omitempty"`
	Country    string             `json:"country,omitempty"` // ISO 3166-1, two letters
	Phone      string             `json:"phone,omitempty"`
	Kinds      []ClassKind        `json:"kinds"`
	Prices     []FurnishedPrice   `json:"prices"`
	Private    []FurnishedOffer   `json:"private,omitempty"`
	Farms      []FurnishedFarm    `json:"farms"`
	Outlets    []Outlet           `json:"outlets"`
	Plants     []Plant            `json:"plants"`
	Recipes    []Recipe           `json:"recipes"`
	Limits     []FurnishedLimit   `json:"limits"`
	Jars       []Jar              `json:"jars"`
	Dishes     []NewDish          `json:"dishes"`
	Lots       []FurnishedLot     `json:"lots"`
	Scales     []Scale            `json:"scales"`
	Rooms      []FurnishedRoom    `json:"rooms"`
	ClosedDays []ClosedDay        `json:"closed_days"`
	Accounts   []FurnishedAccount `json:"accounts"`
}

// FurnishedPrice names its kind by code.
type FurnishedPrice struct {
	Kind  string       `json:"kind"`
	Seat  SeatKind     `json:"seat"`
	Cents unit.Money   `json:"price"`
	From  unit.Instant `json:"from,omitempty"` // none: from the beginning
}

// FurnishedFarm is a farm with its yield profiles.
type FurnishedFarm struct {
	Farm
	Profiles []YieldProfile
}

// FurnishedLot is an ingredient lot and the jars it goes into.
type FurnishedLot struct {
	IngredientLot
	Jars []string
}

// FurnishedRoom is a room and its places: so many of a kind, coded with a letter and
// a number; Bottom of them, the last ones, are the bottom row.
type FurnishedRoom struct {
	Room
	Places []struct {
		Kind   PlaceKind
		Codes  []string // listed, or
		Prefix string   // made: prefix and 1…Count
		Count  int
		Bottom int
	}
}

// FurnishedAccount is a person who signs in; the password is set apart, never in a file
// of a real shop. The demo's people have one so that a visitor can look round.
type FurnishedAccount struct {
	Login   string `json:"login"`
	Name    string `json:"name"`
	Role    Role   `json:"role"`
	Under18 bool   `json:"under18,omitempty"`
}

// FurnishedOffer is what may be had for a party of one's own; it names its kind by code.
type FurnishedOffer struct {
	Kind  string     `json:"kind"`
	Name  string     `json:"name"`
	Flat  unit.Money `json:"flat,omitempty"` // for the whole party; none: the kind's price a head
	Least int        `json:"least"`
	Most  int        `json:"most"`
	Words string     `json:"words,omitempty"`
}
