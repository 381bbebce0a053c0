package label

import (
	"fmt"
	"slices"
	"strings"
)

// Nine are the allergens of United States law in its order.
var Nine = []string{"milk", "egg", "fish", "shellfish", "tree nut", "peanut", "wheat", "soy", "sesame"}

// ByKind are those of the nine whose kind must be named.
var ByKind = []string{"fish", "shellfish", "tree nut"}

// words are the words an allergen goes by in a list of ingredients, in the singular. The
// first nine groups are the law's; the rest is asked of guests by many shops too. Common
// knowledge of the kitchen; a jar's own written allergens come on top.
var words = map[string][]string{
	"milk":      {"milk", "butter", "buttermilk", "cream", "whey", "casein", "caseinate", "cheese", "lactose", "ghee", "yogurt", "yoghurt"},
	"egg":       {"egg", "albumen", "mayonnaise"},
	"fish":      {"fish", "anchovy", "cod", "salmon", "tuna", "trout", "herring", "mackerel", "sardine", "haddock", "pollock", "bonito", "bass", "flounder"},
	"shellfish": {"shellfish", "crab", "lobster", "shrimp", "prawn", "crayfish", "krill"},
	"tree nut":  {"nut", "almond", "walnut", "pecan", "hazelnut", "cashew", "pistachio", "brazil nut", "macadamia", "pine nut", "chestnut", "praline", "marzipan"},
	"peanut":    {"peanut", "groundnut"},
	"wheat":     {"wheat", "spelt", "durum", "semolina", "farro", "emmer", "einkorn", "bulgur", "couscous", "seitan", "wheatberry"},
	"soy":       {"soy", "soya", "soybean", "tofu", "miso", "tamari", "edamame", "tempeh"},
	"sesame":    {"sesame", "tahini", "benne"},
	"mustard":   {"mustard"},
	"celery":    {"celery", "celeriac"},
	"sulphite":  {"sulphite", "sulfite", "bisulphite", "bisulfite", "metabisulphite", "metabisulfite"},
}

// noKind are words that name the allergen but not which fish, nut or shellfish it is.
var noKind = []string{"fish", "shellfish", "nut", "praline"}

// notThis are names that hold an allergen's word without the thing.
var notThis = []string{"cocoa butter", "shea butter", "cream of tartar", "coconut milk", "coconut cream", "oat milk", "rice milk", "apple butter", "marsh mallow"}

// insteadOf turns names into what is in them.
var insteadOf = [][2]string{{"peanut butter", "peanut"}, {"almond butter", "almond"}, {"almond milk", "almond"}, {"soy milk", "soy"}, {"cashew milk", "cashew"}, {"nut butter", "nut"}}

// An Allergen is one of those in a packet: its name in law, and which kinds of it.
type Allergen struct {
	Name  string
	Kinds []string // of fish, shellfish and tree nut
}

// String is "soy", or "tree nut (almond, pecan)".
func (a Allergen) String() string {
	if len(a.Kinds) == 0 {
		return a.Name
	}
	return a.Name + " (" + strings.Join(a.Kinds, ", ") + ")"
}

// Major says whether an allergen is one of the nine.
func (a Allergen) Major() bool { return slices.Contains(Nine, a.Name) }

// In are the allergens one ingredient's own name holds, its parts left aside.
func (i Ingredient) In() []Allergen {
	name := " " + plain(i.Name) + " "
	for _, n := range insteadOf {
		name = strings.ReplaceAll(name, " "+n[0]+" ", " "+n[1]+" ")
	}
	for _, n := range notThis {
		name = strings.ReplaceAll(name, " "+n+" ", " ")
	}
	var out []Allergen
	for _, a := range known() {
		al, found := Allergen{Name: a}, false
		for _, w := range words[a] {
			if !strings.Contains(name, " "+w+" ") {
				continue
			}
			found = true
			if slices.Contains(ByKind, a) && !slices.Contains(noKind, w) {
				al.Kinds = append(al.Kinds, kindOf(w))
			}
		}
		if found {
			out = append(out, al)
		}
	}
	return out
}

func kindOf(w string) string {
	if w == "marzipan" {
		return "almond"
	}
	return w
}

// known are all names in the order they are printed: the nine, then the others.
func known() []string { return append(slices.Clone(Nine), "mustard", "celery", "sulphite") }

// plain is a name in small letters, words in the singular, one space between.
func plain(s string) string {
	f := strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return r != '-' && (r < 'a' || r > 'z') && r < 0x80 })
	for i, w := range f {
		f[i] = singular(strings.Trim(w, "-"))
	}
	return strings.Join(f, " ")
}

func singular(w string) string {
	switch {
	case strings.HasSuffix(w, "ies") && len(w) > 4:
		return w[:len(w)-3] + "y"
	case strings.HasSuffix(w, "ss") || strings.HasSuffix(w, "us") || len(w) < 4:
		return w
	case strings.HasSuffix(w, "s"):
		return w[:len(w)-1]
	}
	return w
}

// Contains gathers the allergens of a whole statement and those written down for it; ask
// names what is missing on the label: a nut, fish or shellfish nobody has named by kind.
func Contains(list []Ingredient, written []string) (found []Allergen, ask []string) {
	by := map[string]*Allergen{}
	add := func(a Allergen) {
		have, ok := by[a.Name]
		if !ok {
			have = &Allergen{Name: a.Name}
			by[a.Name] = have
		}
		for _, k := range a.Kinds {
			if !slices.Contains(have.Kinds, k) {
				have.Kinds = append(have.Kinds, k)
			}
		}
	}
	var walk func([]Ingredient)
	walk = func(l []Ingredient) {
		for _, i := range l {
			for _, a := range i.In() {
				add(a)
			}
			walk(i.Parts)
		}
	}
	walk(list)
	var more []string
	for _, w := range written {
		if w = strings.ToLower(strings.TrimSpace(w)); w == "" {
			continue
		}
		add(Allergen{Name: w})
		if !slices.Contains(known(), w) && !slices.Contains(more, w) {
			more = append(more, w)
		}
	}
	for _, name := range append(known(), more...) {
		a, ok := by[name]
		if !ok {
			continue
		}
		if slices.Contains(ByKind, name) && len(a.Kinds) == 0 {
			ask = append(ask, fmt.Sprintf("which %s it is", name))
		}
		found = append(found, *a)
	}
	return found, ask
}

// Bold says whether an ingredient's own name is printed bold: it holds one of the
// allergens found, or a word of one that was only written down.
func Bold(i Ingredient, found []Allergen) bool {
	name := " " + plain(i.Name) + " "
	own := i.In()
	for _, f := range found {
		if slices.ContainsFunc(own, func(a Allergen) bool { return a.Name == f.Name }) || strings.Contains(name, " "+plain(f.Name)+" ") {
			return true
		}
	}
	return false
}
