"""The handbook beside independent general-purpose libraries: thermocouple-its90 (NIST Monograph 175) and uncertainties
(linear propagation with correlation, GUM eq. 13).
"""

from __future__ import annotations

import numpy as np
import pytest
from thermocouple_its90 import TypeK
from uncertainties import correlated_values

from knowngood.handbook.sensors import type_k_sensitivity, type_k_temperature, type_k_voltage
from knowngood.handbook.uncertainty import combine, volts_and_amps


@pytest.mark.parametrize("temperature", [float(one) for one in np.linspace(-269.0, 1371.0, 83)])
def test_a_type_k_thermocouple_reads_as_its_reference_functions(temperature: float) -> None:
    for cold in (0.0, 23.0):
        millivolts = TypeK.emf(temperature, cold)
        assert 1e3 * type_k_voltage(temperature, cold) == pytest.approx(millivolts, abs=1e-6)
    assert 1e3 * type_k_sensitivity(temperature) == pytest.approx(TypeK.seebeck(temperature), abs=1e-7)


@pytest.mark.parametrize("temperature", [float(one) for one in np.linspace(-200.0, 1372.0, 41)])
def test_a_type_k_voltage_is_the_temperature_that_gives_it(temperature: float) -> None:
    """The library inverts by the approximate polynomials of the monograph, good to 0.06 K."""
    for cold in (0.0, 23.0):
        millivolts = TypeK.emf(temperature, cold)
        found = type_k_temperature(1e-3 * millivolts, cold)
        assert found == pytest.approx(temperature, abs=1e-3)
        assert found == pytest.approx(TypeK.temperature(millivolts, cold), abs=0.07)


@pytest.mark.parametrize("correlation", [-1.0, -0.5, 0.0, 0.36, 1.0])
def test_power_and_resistance_carry_what_linear_propagation_does(correlation: float) -> None:
    voltage, u_voltage, current, u_current = 12.0, 0.02, 0.5, 0.004
    mixed = correlation * u_voltage * u_current
    v, i = correlated_values((voltage, current), [[u_voltage**2, mixed], [mixed, u_current**2]])
    ours = volts_and_amps(voltage, u_voltage, current, u_current, correlation)
    assert ours.power == pytest.approx((v * i).nominal_value)
    assert ours.power_uncertainty == pytest.approx((v * i).std_dev, rel=1e-6, abs=1e-9)
    assert ours.resistance == pytest.approx((v / i).nominal_value)
    assert ours.resistance_uncertainty == pytest.approx((v / i).std_dev, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_correlated_inputs_combine_as_in_linear_propagation(seed: int) -> None:
    draw = np.random.default_rng(seed)
    count = int(draw.integers(2, 5))
    root = draw.normal(size=(count, count))
    covariance = root @ root.T
    u = np.sqrt(np.diag(covariance))
    sensitivities = draw.normal(size=count)
    pairs = [(a, b) for a in range(count) for b in range(a + 1, count)]
    correlations = tuple(float(covariance[a, b] / (u[a] * u[b])) for a, b in pairs)
    inputs = correlated_values(np.zeros(count), covariance)
    total = sum(c * one for c, one in zip(sensitivities, inputs, strict=True))
    ours = combine(tuple(map(float, u)), tuple(map(float, sensitivities)), correlations)
    assert ours.standard == pytest.approx(total.std_dev, rel=1e-9)
