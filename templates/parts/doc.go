// Package parts holds the pieces of page that several screens share: icons,
// the clock, form fields, the error summary, buttons, and how things are
// written (times, decimals, roles).
package parts
