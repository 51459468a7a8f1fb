package templates

import "settlemark/templates/parts"

// lost are the things for which an administrator makes a one-time code.
var lost = []parts.Option{
	{Value: "password", Label: "The password; the second factor is at hand"},
	{Value: "factors", Label: "The second factor; the password is known"},
	{Value: "both", Label: "Both"},
}
