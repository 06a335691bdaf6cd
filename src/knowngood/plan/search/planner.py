from knowngood.plan.search.problem import Problem, Situation
def best_move(problem: Problem, now: Situation) -> int:
    return problem.giving_up
