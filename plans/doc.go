// Package plans turns a protocol, which says when a field must be treated and
// how sure one must be, into a plan: a table that tells a scout after each stop
// to leave the field, to act, or to walk on, with the exact risks of doing so.
//
// For most uses, read a protocol with [ReadProtocol], call [Design], and ask
// the plan's stages for a verdict with [StagePlan.Check]:
//
//	protocol, err := plans.ReadProtocol(text)
//	plan, err := plans.Design(ctx, protocol, plans.DesignOptions{})
//	answer, err := plan.Stages[0].Check([]plans.Count{{Total: 3}, {Total: 5}})
//
// A threshold on a mean per leaf becomes one on a share of plants in package tallying,
// which shows what its plan does against the mean. Package precision makes plans that
// estimate and decide nothing.
//
// Whatever builds a plan returns the same [Table]; evaluation, tables, answers
// and files know nothing of how it was built. Shares and probabilities are in
// [0, 1]. The package knows nothing of file paths, printing or clocks.
package plans
