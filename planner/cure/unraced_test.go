//go:build !race

package cure

const raced = false
