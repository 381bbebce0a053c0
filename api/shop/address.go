package shop

// Address is where the shop's door is, as it stands on pages, in messages and in the data
// search engines read. Every part may be empty but what is there is plain text.
type Address struct {
	Street   string // and number
	Place    string // town
	Region   string
	Postcode string
	Country  string // two letters of ISO 3166-1: "US"
	Phone    string
}

// Lines are the parts people write, in one line: "3 Corbel Street, Pellow Crossing".
func (a Address) Lines() string {
	text := ""
	for _, part := range []string{a.Street, a.Place, a.Region, a.Postcode} {
		if part == "" {
			continue
		}
		if text != "" {
			text += ", "
		}
		text += part
	}
	return text
}
