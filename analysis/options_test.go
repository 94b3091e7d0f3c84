package analysis

import (
	"evenbeat/analysis/parts"
	"evenbeat/analysis/spring"
)

func usualSpringOptions() SpringOptions {
	return SpringOptions{Limits: spring.DefaultLimits(), TypedLimit: 0.02e-3}
}

func usualPartsOptions() PartsOptions {
	return PartsOptions{
		Pivot:      parts.PivotLimits{ClearanceLow: 0.02, ClearanceHigh: 0.10, OutOfRound: 0.02e-3, Taper: 0.02e-3},
		Wheel:      parts.WheelLimits{ModuleApart: 0.03},
		TypedLimit: usualSpringOptions().TypedLimit,
	}
}
