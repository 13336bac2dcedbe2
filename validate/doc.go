// Package validate tries a plan on worlds and data that it was not made for:
// pests more or less clumped than assumed, scouts who misread plants, real
// fields, and made fields walked along a route.
//
// What the model allows is computed exactly (see [SurveyClumping] and its like);
// everything else is simulated, with standard errors:
//
//	o := validate.Options{Visits: 10000, Seed: 1}
//	survey := validate.SurveyClumping(stage, nil)
//	fields, err := validate.Resample(ctx, stage, data.Fields, o)
//	walks, err := validate.Walks(ctx, stage, validate.WalkOptions{Options: o, Rho: 0.1, Speed: validate.WalkSpeed})
//
// A simulation depends on its seed and on nothing else: not on the number of
// workers, and not on what was simulated before. Shares and chances are in
// [0, 1], lengths in metres, times in minutes. The package knows nothing of
// files, printing or clocks.
package validate
