"""Networks that count unequally in their mean."""

import pytest

torch = pytest.importorskip("torch")

from models.export.onnx_files import merged  # noqa: E402
from models.joints.net import JointNet, JointNets  # noqa: E402
from models.joints.weigh import BRIDGE_ROWS, weighed  # noqa: E402


def test_the_mean_of_weighed_networks_is_the_weighted_mean(tmp_path) -> None:
    torch.manual_seed(4)
    nets = [JointNet().eval() for _ in range(2)]
    files = [tmp_path / f"joints_{k}.pt" for k in range(2)]
    for file, net, bridge, leads in zip(
        files, nets, (1.5, 0.5), (0.6, 1.4), strict=True
    ):
        torch.save(weighed(net.state_dict(), bridge, leads), file)
    both = JointNets(2).eval()
    both.load_state_dict(merged(files))
    picture = torch.rand(3, 7, 80, 96)
    with torch.no_grad():
        said, cover = both(picture)
        (a, cover_a), (b, cover_b) = (net(picture) for net in nets)
    gap = slice(None, BRIDGE_ROWS), slice(BRIDGE_ROWS, None)
    assert torch.allclose(said[:, gap[0]], (0.75 * a + 0.25 * b)[:, gap[0]], atol=2e-3)
    assert torch.allclose(said[:, gap[1]], (0.3 * a + 0.7 * b)[:, gap[1]], atol=2e-3)
    assert torch.allclose(cover, 0.75 * cover_a + 0.25 * cover_b, atol=2e-3)
