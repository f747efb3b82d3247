from tests.bench.driver import driver_cost


def test_the_driver_costs_less_than_a_tenth_of_a_run_of_three_milliseconds_a_candidate() -> None:
    assert driver_cost(3, 1500) < 0.3e-3
