package live

import (
	"evenbeat/configs"
	"evenbeat/devices/formats"
)

// FormatProfiles returns the profile that each wire format has by its own name.
func FormatProfiles() []configs.Profile {
	var all []configs.Profile
	for _, f := range formats.All() {
		all = append(all, configs.Profile{
			Name: f.Name, Title: f.Title, Kind: f.Instrument,
			Baud: f.Baud, Request: f.Request, RequestEveryS: f.RequestEveryS,
			LimitOutsideMM: f.LimitOutsideMM, LimitInsideMM: f.LimitInsideMM,
			CountRate: f.CountRate, CountBits: f.CountBits,
		})
	}
	return all
}
