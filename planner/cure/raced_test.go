//go:build race

package cure

const raced = true // ten times slower: fewer slabs
