"""From a trained network to the file that the program reads, and a stored case that proves they agree."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt
import torch
from torch import Tensor, nn

from fillwright.listen.onsets.ear.network import VERSION
from training.ear.model import Network

Arrays = dict[str, npt.NDArray[np.floating]]


def export_network(network: Network) -> Arrays:
    """Return the arrays of a network's file, float16, batch normalisation folded into the weights."""
    network.eval()
    arrays: dict[str, Tensor] = {}
    for number, (convolution, norm) in enumerate(zip(network.front, network.front_norms, strict=True)):
        arrays[f"front{number}.weights"], arrays[f"front{number}.biases"] = fold(convolution, norm)
    weights, arrays["dense.biases"] = fold(network.dense, network.norm)
    arrays["dense.weights"] = weights[:, :, 0]
    for number, block in enumerate(network.blocks):
        weights, arrays[f"block{number}.time_biases"] = fold(block.over_time, block.norm)
        arrays[f"block{number}.time_weights"] = weights.permute(2, 0, 1)
        arrays[f"block{number}.weights"] = block.dense.weight[:, :, 0]
        arrays[f"block{number}.biases"] = block.dense.bias
    arrays["output.weights"], arrays["output.biases"] = network.output.weight[:, :, 0], network.output.bias
    out: Arrays = {name: array.detach().cpu().numpy().astype(np.float16) for name, array in arrays.items()}
    out["dilations"] = np.array(network.shape.dilations, np.float16)
    out["version"] = np.array(VERSION, np.float16)
    return out


def fold(layer: nn.Module, norm: nn.Module) -> tuple[Tensor, Tensor]:
    """Return the weights and biases of a layer with its batch normalisation."""
    gain = norm.weight / torch.sqrt(norm.running_var + norm.eps)
    weights = layer.weight * gain.reshape(-1, *[1] * (layer.weight.ndim - 1))
    return weights, norm.bias - norm.running_mean * gain


def write_network(path: Path, network: Network) -> None:
    """Write a network's file."""
    np.savez(path, **export_network(network))


def write_case(path: Path, network: Network, features: nn.Module, signal: Tensor) -> None:
    """Write a signal with the features and outputs that PyTorch computes of it.

    The outputs are those of the weights as they are stored, rounded to float16.
    """
    rounded = Network(network.shape).to(signal.device).eval()
    rounded.load_state_dict(network.state_dict())
    arrays = export_network(network)
    with torch.no_grad():
        _load_folded(rounded, arrays)
        computed = features(signal[None])
        outputs = rounded(computed)
    np.savez_compressed(
        path,
        signal=np.round(signal.cpu().numpy() * 32767).astype(np.int16),
        features=computed[0].cpu().numpy().astype(np.float32)[:, :, ::8],
        outputs=outputs[0].cpu().numpy().astype(np.float32),
    )


def _load_folded(network: Network, arrays: Arrays) -> None:
    """Load rounded, folded weights into a network, its normalisation set to do nothing but add the biases."""
    layers = [
        (convolution, norm, arrays[f"front{n}.weights"], arrays[f"front{n}.biases"])
        for n, (convolution, norm) in enumerate(zip(network.front, network.front_norms, strict=True))
    ]
    layers.append((network.dense, network.norm, arrays["dense.weights"][:, :, None], arrays["dense.biases"]))
    for n, block in enumerate(network.blocks):
        weights = arrays[f"block{n}.time_weights"].transpose(1, 2, 0)
        layers.append((block.over_time, block.norm, weights, arrays[f"block{n}.time_biases"]))
        _copy(block.dense.weight, arrays[f"block{n}.weights"][:, :, None])
        _copy(block.dense.bias, arrays[f"block{n}.biases"])
    for layer, norm, weights, biases in layers:
        _copy(layer.weight, weights)
        norm.weight.fill_(1)
        norm.running_mean.fill_(0)
        norm.running_var.fill_(1 - norm.eps)
        _copy(norm.bias, biases)
    _copy(network.output.weight, arrays["output.weights"][:, :, None])
    _copy(network.output.bias, arrays["output.biases"])


def _copy(parameter: Tensor, values: npt.NDArray[np.floating]) -> None:
    parameter.copy_(torch.from_numpy(np.ascontiguousarray(values, dtype=np.float32)))
