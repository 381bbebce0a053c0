package scenario

import (
	_ "embed"

	"flitchbook/planner/unit"
)

//go:embed story.json
var storyFile []byte

// Event is one thing that happens in the invented shop. Do says what; the other fields
// are its particulars, and each kind of event uses its own.
type Event struct {
	At string `json:"at"` // on the shop's clocks: "2026-10-08 15:30"
	Do string `json:"do"`
	By string `json:"by"` // who of the staff; "" a customer or farm

	Number int    `json:"number"` // of a booking
	Who    string `json:"who"`
	Mail   string `json:"mail"`
	Note   string `json:"note"`

	Cls      string              `json:"cls"`
	Code     string              `json:"code"`
	Kind     string              `json:"kind"`
	Title    string              `json:"title"`
	Start    string              `json:"start"`
	End      string              `json:"end"`
	Seats    int                 `json:"seats"`
	Private  bool                `json:"private"`
	Flat     unit.Money          `json:"flat"`
	Watch    int                 `json:"watch"`
	Second   int                 `json:"second"`
	Picks    []string            `json:"picks"`
	Guests   []string            `json:"guests"` // a name each, or for leaving: who leaves
	Ages     []int               `json:"ages"`
	Needs    map[string]string   `json:"needs"` // "none", "sesame", "sesame!" severe, "other:words"
	Remember bool                `json:"remember"`
	Sliced   bool                `json:"sliced"`
	Counter  bool                `json:"counter"`
	PayAt    string              `json:"pay_at"`
	Deposit  unit.Money          `json:"deposit"`
	Voucher  string              `json:"voucher"`
	Amount   unit.Money          `json:"amount"`
	Method   string              `json:"method"`
	Choice   string              `json:"choice"`
	To       string              `json:"to"`
	Seat     int                 `json:"seat"`
	Jar      string              `json:"jar"`
	Reason   string              `json:"reason"`
	Table    map[string][]string `json:"table"` // booking number to the jars chosen at the table
	Heads    int                 `json:"heads"`
	Missed   []int               `json:"missed"`

	Name     string     `json:"name"`
	Paid     unit.Money `json:"paid"`
	Buyer    string     `json:"buyer"`
	Receiver string     `json:"receiver"`
	SendOn   unit.Day   `json:"send_on"`

	Kill    unit.Day               `json:"kill"`
	Species string                 `json:"species"`
	Farm    string                 `json:"farm"`
	Animals Animals                `json:"animals"`
	Classes []string               `json:"classes"`
	Answer  string                 `json:"answer"`
	Words   string                 `json:"words"`
	Sides   [][]string             `json:"sides"`
	Animal  int                    `json:"animal"`
	Which   []string               `json:"which"`
	Plant   string                 `json:"plant"`
	Weights map[string]unit.Weight `json:"weights"`
	Bill    Bill                   `json:"bill"`

	Ingredient string      `json:"ingredient"`
	Replaces   string      `json:"replaces"`
	Room       string      `json:"room"`
	Until      string      `json:"until"`
	Temp       unit.Temp   `json:"temp"`
	Readings   [][2]string `json:"readings"` // clock and temperature
	Day        unit.Day    `json:"day"`
	Smoke      unit.Day    `json:"smoke"`
	House      int         `json:"house"`
	Overflow   []string    `json:"overflow"`
	Tags       []string    `json:"tags"`
	Why        string      `json:"why"`
	Wood       string      `json:"wood"`
	Log        [][3]string `json:"log"` // clock, house and core
}

// Bill is a farm's or plant's bill as it is printed.
type Bill struct {
	From    string      `json:"from"` // "farm" or "plant"
	Number  string      `json:"number"`
	Basis   string      `json:"basis"` // of a farm's: "hot" or "cold"
	Animals int         `json:"animals"`
	Weight  unit.Weight `json:"weight"`
	Price   unit.Money  `json:"price"`
	Meat    unit.Money  `json:"meat"`
	Haul    unit.Money  `json:"haul"`
	Other   unit.Money  `json:"other"`
	Words   string      `json:"words"`
	Total   unit.Money  `json:"total"`
}

// Animals is how many an order asks for, or each carcass of a kill.
type Animals struct {
	Count int
	Each  []Carcass
}

// Carcass is one animal as it hung.
type Carcass struct {
	Tag       string      `json:"tag"`
	Hot       unit.Weight `json:"hot"`
	Condemned bool        `json:"condemned"`
	Age       string      `json:"age"` // of cattle
}

// Story is everything that happens, in order of time.
func Story() []Event {
	var all []Event
	read("story.json", storyFile, &all)
	return all
}
