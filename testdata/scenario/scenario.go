// Package scenario is the invented shop of the demo and of the stories in the tests:
// Corbel Street Butchery in Pellow Crossing, its farms, people, classes and bookings.
// None of them exist.
package scenario

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"fmt"

	"flitchbook/api/shop"
)

//go:embed shop.json
var shopFile []byte

// Shop is the demo shop's furnishing.
func Shop() shop.Furnishing {
	var f shop.Furnishing
	read("shop.json", shopFile, &f)
	return f
}

// read decodes an embedded file; a file that cannot be read is a fault of the
// program's making and stops it at once.
func read(name string, b []byte, v any) {
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		panic(fmt.Sprintf("scenario: %s: %v", name, err))
	}
}
